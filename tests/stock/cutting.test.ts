import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { doTask, tasksDue } from '../../src/rounds/tasks/tasks.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// Cuts as a farm makes them: what speaks against one, and how its pieces do afterwards.

let bench: Bench;
let hall: Hall;
let apart: Hall;
let hand: Visitor;
let manager: Visitor;

const dayMs = 86_400_000;
/** The lots of the hall came on 1 November 2026. */
const came = new Date('2026-11-01T09:00:00Z');
let signedInOn = Number.NEGATIVE_INFINITY;
/** People sign in again after two weeks. */
const onDay = async (day: number) => {
  bench.at(new Date(came.getTime() + day * dayMs));
  if (day - signedInOn < 13) return;
  signedInOn = day;
  hand = await bench.as('hand', `Nela ${day}`);
  manager = await bench.as('manager', `Ravi ${day}`);
};

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  apart = await makeHall(bench);
  await onDay(5);
});
afterAll(() => bench.close());

const cut = (lot: { id: string }, form: Record<string, unknown> = {}) =>
  hand.post(`/lots/${lot.id}/cuts`, { pieces: '4', method: 'Band saw', ...form });
const look = (lot: { id: string }, state: string, grade?: string) =>
  hand.post(`/lots/${lot.id}/conditions`, { state, ...(grade === undefined ? {} : { grade }) });
const lotsCutFrom = (lot: { id: string }) =>
  bench.service.db.cut.findMany({
    where: { fromLotId: lot.id },
    include: { into: true },
    orderBy: { at: 'asc' },
  });
const slotOf = async (rackId: string, row: number, column: number) =>
  (await bench.service.db.slot.findFirstOrThrow({ where: { rackId, row, column } })).id;

describe('before a cut', () => {
  test('a lot that came five days ago is asked about, and the reason is kept with the cut and in the journal', async () => {
    await onDay(5);
    await look(hall.lots.A1, 'well');
    expect((await hand.get(`/stock/${hall.lots.A1.code}/cut`)).body).toContain('It came 5 days ago');
    const refused = await cut(hall.lots.A1);
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('Say why you cut it anyway');
    const api = await hand.send(`/api/lots/${hall.lots.A1.id}/cuts`, { pieces: 4 });
    expect(api.status).toBe(409);
    expect((await cut(hall.lots.A1, { despite: 'a branch broke in the bag' })).status).toBe(303);
    const [made] = await lotsCutFrom(hall.lots.A1);
    expect(made).toMatchObject({ despite: 'a branch broke in the bag', method: 'Band saw' });
    expect(made?.against.join(' ')).toContain('It came 5 days ago');
    const { rows } = await bench.service.pool.query(
      `SELECT FROM journal_line WHERE kind = 'cut.made' AND detail->>'reason' = 'a branch broke in the bag'`,
    );
    expect(rows).toHaveLength(1);
  });

  test.each([
    ['receding', '2', 'It was receding, about a third at the last look'],
    ['paling', '1', 'It was paling, a little at the last look'],
    ['polyps_shut', '1', 'It was polyps shut'],
  ])('one that is %s is asked about', async (state, grade, says) => {
    await onDay(60);
    await look(hall.lots.A2, state, grade);
    const refused = await cut(hall.lots.A2);
    expect(refused.status).toBe(409);
    expect(refused.body).toContain(says);
  });

  test('one that is well, settled and looked at lately is cut without a question', async () => {
    await onDay(61);
    await look(hall.lots.A2, 'well');
    const page = await hand.get(`/stock/${hall.lots.A2.code}/cut`);
    expect(page.body).not.toContain('Why you do it anyway');
    const answer = await cut(hall.lots.A2, {
      ...{ tool: 'Old saw', cutBy: 'Ida', minutesOut: '6', dip: 'Iodine dip', sizeMm: '24' },
    });
    expect(answer.status).toBe(303);
    const [made] = await lotsCutFrom(hall.lots.A2);
    expect(made).toMatchObject({
      tool: 'Old saw',
      cutBy: 'Ida',
      minutesOut: 6,
      dip: 'Iodine dip',
      against: [],
    });
  });

  test('a second lot made of it in the same go is asked nothing; a cut five days later is', async () => {
    expect((await cut(hall.lots.A2)).status).toBe(303);
    await onDay(66);
    const refused = await cut(hall.lots.A2);
    expect(refused.body).toContain('It was cut 5 days ago; given 30 days to heal.');
  });

  test('pieces smaller than the kind bears are asked about', async () => {
    await onDay(110);
    await look(hall.lots.A2, 'well');
    const refused = await cut(hall.lots.A2, { sizeMm: '8' });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('Pieces of 8 mm; its kind is cut no smaller than 20 mm.');
  });

  test('one that nobody looked at says so, and is left to who cuts', async () => {
    expect((await hand.get(`/stock/${hall.lots.B1.code}/cut`)).body).toContain(
      'Nobody has noted how it looks',
    );
    expect((await cut(hall.lots.B1)).status).toBe(303);
  });

  test('one moved three days ago is asked about', async () => {
    await onDay(111);
    const slot = await slotOf(apart.empty, 1, 1);
    expect((await hand.post(`/lots/${apart.lots.A1.id}/placements`, { slot })).status).toBeLessThan(400);
    await onDay(114);
    expect((await cut(apart.lots.A1)).body).toContain('It has been there for 3 days; give it 7.');
  });

  test('several lots are cut in one go, the ones that ask are left as they are', async () => {
    await onDay(150);
    await look(hall.lots.A1, 'well');
    await look(hall.lots.A2, 'receding', '1');
    const lots = [hall.lots.A1, hall.lots.A2];
    const form = { ticked: lots.map(({ code }) => code).join('.'), pieces: '3', method: 'Bone cutter' };
    const first = await hand.post('/stock/several/cut', form);
    expect(first.status).toBe(409);
    expect(first.body).toContain('It was receding, a little at the last look');
    const agreed = /name="agreed" value="([^"]+)"/.exec(first.body)?.[1] ?? '';
    const before = (await lotsCutFrom(hall.lots.A2)).length;
    const done = await hand.post('/stock/several/cut', { ...form, agreed });
    expect(done.status).toBe(303);
    expect((await lotsCutFrom(hall.lots.A1)).at(-1)).toMatchObject({ pieces: 3, method: 'Bone cutter' });
    expect(await lotsCutFrom(hall.lots.A2)).toHaveLength(before);
  });
});

describe('a lot kept as soft coral that is identified as Palythoa', () => {
  test('shows the caution against palytoxin on its record, before a cut, and in its tag', async () => {
    const { db } = bench.service;
    const soft = await db.kind.findUniqueOrThrow({ where: { code: 'soft-corals' } });
    const lot = await db.lot.update({ where: { id: apart.lots.B1.id }, data: { kindId: soft.id } });
    const page = () => hand.get(`/stock/${lot.code}`);
    expect((await page()).body).not.toContain('palytoxin');
    await hand.post(`/lots/${lot.id}/identifications`, {
      ...{ scientificName: 'Palythoa tuberculosa', identificationQualifier: 'cf.' },
      ...{ identifiedBy: 'Ida', dateIdentified: '2026-11-20', identificationRemarks: '', asTyped: 'yes' },
    });
    for (const path of ['', '/cut']) {
      const { body } = await hand.get(`/stock/${lot.code}${path}`);
      expect(body).toContain('May hold a strong poison');
      expect(body).toContain('palytoxin');
    }
    await look(lot, 'well');
    const tag = await manager.post('/tags', { lot: lot.code, pieces: '1' });
    const record = await bench.service.db.tag.findFirst({ where: { lotId: lot.id } });
    expect(record === null ? tag.body : record.record).toContain('palytoxin');
  });
});

describe('a correction of a place', () => {
  test('into other water asks what a move would have asked, and takes the watch along', async () => {
    await onDay(160);
    const { db } = bench.service;
    await hand.post(`/lots/${hall.lots.B1.id}/conditions`, {
      state: 'pest',
      grade: '1',
      pest: 'acropora_flatworm',
    });
    const lot = hall.lots.A1;
    const { id } = await db.placement.findFirstOrThrow({ where: { lotId: lot.id, toAt: null } });
    const slot = await slotOf(apart.empty, 2, 2);
    const form = { slot, at: '2027-04-01T09:00' };
    const refused = await hand.post(`/placements/${id}/correction`, form);
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('is under watch for');
    expect(await db.pestWatch.count({ where: { systemId: apart.systemId, endedAt: null } })).toBe(0);
    const done = await hand.post(`/placements/${id}/correction`, { ...form, reason: 'wrong rack typed' });
    expect(done.status).toBe(303);
    expect(await db.pestWatch.count({ where: { systemId: apart.systemId, endedAt: null } })).toBe(1);
  });
});

describe('after a cut', () => {
  let made: { id: string; code: string };
  const day = 200;

  beforeAll(async () => {
    await onDay(day);
    await look(apart.lots.A2, 'well');
    const despite = 'the watch is known';
    const slot = await slotOf(apart.empty, 1, 2);
    expect((await cut(apart.lots.A2, { pieces: '10', sizeMm: '25', despite, slot })).status).toBe(303);
    made = (await lotsCutFrom(apart.lots.A2)).at(-1)?.into as typeof made;
  });

  const tasks = async () =>
    (await tasksDue(bench.service.pool, [apart.systemId], bench.service.now())).filter(
      ({ href }) => href === `/stock/${made.code}/healing`,
    );

  test('nothing is asked on day 3; on day 7 its pieces are to be counted', async () => {
    await onDay(day + 3);
    expect(await tasks()).toEqual([]);
    await onDay(day + 7.2);
    expect(await tasks()).toMatchObject([
      { title: `Count the cut pieces of ${made.code}: 10 pieces`, done: false },
    ]);
  });

  test('a tick on a round says that all are alive, and nothing of their wounds', async () => {
    const [task] = await tasks();
    await bench.change((work) => doTask(work, task?.key ?? '', { at: work.now, amount: null, note: '' }));
    const [seen] = await bench.service.db.healingLook.findMany();
    expect(seen).toMatchObject({ alive: 10, healed: null, dead: 0, missing: 0 });
    expect(await tasks()).toMatchObject([{ done: true }]);
  });

  test('a count that leaves some out is not taken: what nobody counted is not alive', async () => {
    await onDay(day + 31);
    const refused = await hand.post(`/lots/${made.id}/healing-looks`, { alive: '7', healed: '6' });
    expect(refused.status).toBe(422);
    expect(refused.body).toContain('there were 10 pieces; you counted 7');
  });

  test('the dead and the missing leave the count, and come back when the count is taken back', async () => {
    const form = { alive: '7', healed: '6', dead: '2', missing: '1' };
    expect((await hand.post(`/lots/${made.id}/healing-looks`, form)).status).toBe(303);
    const pieces = async () =>
      (await bench.service.db.lot.findUniqueOrThrow({ where: { id: made.id } })).pieces;
    expect(await pieces()).toBe(7);
    const page = await hand.get(`/stock/${made.code}/healing`);
    expect(page.body).toContain('7 alive, 6 of them healed; 2 dead; 1 not found');
    const seen = await bench.service.db.healingLook.findFirstOrThrow({ where: { dead: 2 } });
    await hand.post(`/healing-looks/${seen.id}/voiding`, { reason: 'another lot' });
    expect(await pieces()).toBe(10);
    expect((await hand.post(`/lots/${made.id}/healing-looks`, form)).status).toBe(303);
  });

  test('a look nobody took is not known, on the list of cuts too', async () => {
    await onDay(day + 119.9);
    const { body } = await hand.get('/stock/cuts');
    expect(body).toContain(made.code);
    expect(body).toContain('1 cut waits for a count');
    await onDay(day + 125);
    expect((await hand.get(`/stock/${made.code}/healing`)).body).toContain('Not known: nobody counted');
    expect(await tasks()).toEqual([]);
  });
});

import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { doTask, tasksDue } from '../../src/rounds/tasks/tasks.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { layRack } from '../farm/ground.ts';
import { type Hall, makeHall } from '../rounds/hall.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

// A pest on one lot, as a farm meets it: the published figures are those of the Acropora-eating flatworm at 27 degC, eggs
// hatch after 11 d and a generation takes 38 d at least (Front. Mar. Sci. 6 (2019) 524).

let bench: Bench;
let hall: Hall;
let other: Hall;
let hand: Visitor;
let manager: Visitor;

const dayMs = 86_400_000;
const start = new Date('2026-11-05T09:00:00Z');
const onDay = (day: number) => bench.at(new Date(start.getTime() + day * dayMs));

beforeAll(async () => {
  bench = await startBench({ watching: false });
  hall = await makeHall(bench);
  other = await makeHall(bench);
  const { db, pool } = bench.service;
  const method = await db.method.findFirstOrThrow({ where: { quantityCode: 'temperature' } });
  await pool.query(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, at, value, uncertainty, entered_text, entered_unit)
     SELECT gen_random_uuid(), $1, 'temperature', $2, $3::timestamptz + n * interval '1 day', 27, 0.1, '27', 'degC' FROM generate_series(-10, 120) AS n`,
    [hall.systemId, method.id, start.toISOString()],
  );
  onDay(0);
  hand = await bench.as('hand', 'Nela Brandt');
  manager = await bench.as('manager', 'Ravi Oduya');
});
afterAll(() => bench.close());

const watch = async (systemId = hall.systemId) =>
  bench.service.db.pestWatch.findFirst({ where: { systemId, endedAt: null } });
const page = async () => (await hand.get(`/stock/pests/${(await watch())?.id}`)).body;
const post = (what: string, form: Record<string, unknown>) => hand.post(`/lots/${what}`, form);
const slotOf = async (rackId: string, name: string) => {
  const [row, column] = [name.charCodeAt(0) - 64, Number(name.slice(1))];
  return (await bench.service.db.slot.findFirstOrThrow({ where: { rackId, row, column } })).id;
};

describe('a flatworm seen on one lot', () => {
  test('puts all that shares its water under watch', async () => {
    onDay(0);
    const noted = await post(`${hall.lots.A1.id}/conditions`, {
      ...{ state: 'pest', grade: '3', pest: 'acropora_flatworm', pestCount: '14', note: 'bites' },
    });
    expect(noted.status).toBe(303);
    expect(await watch()).toMatchObject({ pest: 'acropora_flatworm', systemId: hall.systemId, tankId: null });
    expect(await watch(other.systemId)).toBeNull();
    const body = await page();
    expect(body).toContain('Acropora-eating flatworm');
    expect(body).toContain('14 counted');
    expect(body).toMatch(/11 days at 27.0 °C/);
    expect(body).toMatch(/38 days at 27.0 °C/);
    expect(body).toContain('3 lots share this water');
  });

  test('leaves no lot of that water ready to sell, and those of other water as they were', async () => {
    const { body } = await hand.get('/stock/ready?part=not');
    const said = body.match(/>Its water is under watch for a pest: Acropora-eating flatworm/g) ?? [];
    expect(said).toHaveLength(3);
  });

  test('has a sale of the lot itself refused, reason or not', async () => {
    const refused = await post(`${hall.lots.A1.id}/sales`, { pieces: '1', despite: 'a good customer' });
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('To sell it or give it away is refused until the watch has ended');
  });

  test.each([
    ['a sale', 'sales', { pieces: '1', buyer: 'Reef room' }],
    ['a hold', 'holds', { pieces: '1', buyer: 'Reef room', until: '2026-12-30' }],
    ['a cut', 'cuts', { pieces: '2' }],
  ])('has %s of a lot that shares its water asked about, and keeps the reason', async (_, what, form) => {
    const { id, code } = hall.lots.B1;
    const shown = await hand.get(`/stock/${code}/${what.slice(0, -1)}`);
    expect(shown.body).toContain('is under watch');
    const asked = await post(`${id}/${what}`, form);
    expect(asked.status).toBe(409);
    expect(asked.body).toContain('Why you do it anyway');
    const done = await post(`${id}/${what}`, { ...form, despite: `Agreed with the buyer, ${what}` });
    expect(done.status, done.body).toBe(303);
    expect(await page()).toContain(`Agreed with the buyer, ${what}`);
    const line = await bench.service.db.journalLine.findFirst({
      where: { kind: 'kept_apart.overridden', subjectId: id },
      orderBy: { at: 'desc' },
    });
    expect(JSON.stringify(line?.detail)).toContain('Agreed with the buyer');
  });

  test('has a tag asked about, alone and for several lots', async () => {
    const tag = { lot: hall.lots.B1.code, pieces: '1', reason: '', sold: '', hereAlone: 'yes' };
    expect((await manager.post('/tags', tag)).status).toBe(409);
    const several = await manager.get(`/tags/several?lot=${hall.lots.B1.code}`);
    expect(several.body).toContain('is under watch');
    expect((await manager.post('/tags', { ...tag, reason: 'Buyer knows of it' })).status).toBe(303);
    const seenOn = await manager.post('/tags', { ...tag, lot: hall.lots.A1.code, reason: 'Buyer knows' });
    expect(seenOn.status).toBe(409);
  });

  test('lets a lot move within the water, asks before it leaves, and watches the water it goes to', async () => {
    const { id } = hall.lots.A2;
    const within = await post(`${id}/placements`, { slot: await slotOf(hall.empty, 'A1') });
    expect(within.status, within.body).toBe(303);
    const slot = await slotOf(other.empty, 'A1');
    expect((await post(`${id}/placements`, { slot })).status).toBe(409);
    expect(await watch(other.systemId)).toBeNull();
    const moved = await post(`${id}/placements`, { slot, despite: 'To be treated there' });
    expect(moved.status, moved.body).toBe(303);
    expect(await watch(other.systemId)).toMatchObject({ pest: 'acropora_flatworm' });
    expect((await watch(other.systemId))?.openedWhy).toContain('came from');
  });

  test('lists what left the water, to whom and where', async () => {
    const body = await page();
    expect(body).toContain('Sold to Reef room');
    expect(body).toMatch(/Moved to Shallow/);
  });

  test('does not end with one look at the lot that finds it well, nor with a clean look before its cycle is over', async () => {
    await post(`${hall.lots.A1.id}/conditions`, { state: 'well' });
    expect(await watch()).not.toBeNull();
    const tooSoon = await hand.post(`/stock/pests/${(await watch())?.id}/looks`, { found: '0' });
    expect(tooSoon.status).toBe(409);
    onDay(3);
    await hand.post(`/stock/pests/${(await watch())?.id}/looks`, { found: '0' });
    expect(await watch()).not.toBeNull();
  });
});

describe('a treatment', () => {
  const bath = {
    ...{ product: 'Bath for stony corals', substance: 'levamisole', doseALitre: '12', doseUnit: 'mg' },
    ...{ labelLow: '5', labelHigh: '10', litres: '4', minutes: '60', notFor: 'Snails and shrimps' },
  };

  test('beyond what was typed of its label wants a reason; then it is kept, and its next is when eggs have hatched', async () => {
    onDay(4);
    const url = `/stock/pests/${(await watch())?.id}/treatments`;
    expect((await hand.get(url.replace('treatments', 'treatment'))).body).toContain('Wear gloves');
    const form = { ...bath, treated: hall.lots.A1.id, countedBefore: '9' };
    const asked = await hand.post(url, form);
    expect(asked.status).toBe(409);
    expect(asked.body).toContain('The label says at most 10 mg a litre');
    expect((await hand.post(url, { ...form, doseALitre: '8', treated: '' })).status).toBe(422);
    const notFor = 'Closed brain corals, snails and shrimps';
    const named = await hand.post(url, { ...form, doseALitre: '8', notFor });
    expect(named.status).toBe(409);
    expect(named.body).toContain(`Not to be treated, by its label: ${hall.lots.A1.code} (`);
    const kept = await hand.post(url, { ...form, doseALitre: '8' });
    expect(kept.status, kept.body).toBe(303);
    const body = await page();
    expect(body).toContain('8 mg a litre, 32 mg in 4 L');
    expect(body).toContain('Not for: Snails and shrimps');
    // Day 4 and 11 more.
    expect(body).toContain('20 Nov 2026');
  });

  test('tells what was lost within a week after it', async () => {
    onDay(6);
    await post(`${hall.lots.A1.id}/ledger`, { reason: 'lost', pieces: '2', note: 'died' });
    expect(await page()).toContain('2 pieces');
  });
});

describe('the end', () => {
  test('comes with the second clean look past the cycle, and a new lot before it begins the count again', async () => {
    const look = async (day: number) => {
      onDay(day);
      return hand.post(`/stock/pests/${(await watch())?.id}/looks`, { found: '0' });
    };
    // 38 days from day 0.
    await look(39);
    expect(await page()).toContain('one more clean look');
    onDay(41);
    const slot = await slotOf(hall.wall, 'A3');
    const came = await post(`${other.lots.B1.id}/placements`, {
      slot,
      despite: 'From water under watch too',
    });
    expect(came.status, came.body).toBe(303);
    expect(await page()).toContain(other.lots.B1.code);
    await look(46);
    expect(await watch()).not.toBeNull();
    await look(80);
    const id = (await watch())?.id;
    const last = await look(87);
    expect(last.status).toBe(303);
    expect(await watch()).toBeNull();
    expect((await hand.get(`/stock/pests/${id}`)).body).toContain('Two clean looks past its cycle');
  });

  test('by hand is for the manager, with a reason; a voided sighting ends a watch that rested on it alone', async () => {
    onDay(90);
    await post(`${hall.lots.B1.id}/conditions`, { state: 'pest', grade: '1' });
    const open = await watch();
    expect(open).toMatchObject({ pest: 'unnamed' });
    const end = `/stock/pests/${open?.id}/end`;
    expect((await hand.post(end, { reason: 'nothing' })).status).toBe(403);
    const named = await hand.post(`/stock/pests/${open?.id}/name`, {
      pest: 'porites_slug',
      version: open?.version,
    });
    expect(named.status).toBe(303);
    expect(await watch()).toMatchObject({ pest: 'porites_slug' });
    const condition = await bench.service.db.condition.findFirstOrThrow({
      where: { lotId: hall.lots.B1.id, state: 'pest' },
    });
    await hand.post(`/conditions/${condition.id}/voiding`, { reason: 'It was silt' });
    expect(await watch()).toBeNull();
  });
});

describe('a quarantine', () => {
  const size = { lengthMm: '600', widthMm: '400', heightMm: '400', note: '' };
  let tankId: string;
  let slot: string;

  test('in a system with other tanks is refused until somebody says how its water is kept apart', async () => {
    onDay(91);
    const url = `/farm/systems/${hall.systemId}/tanks`;
    const form = { ...size, name: 'Wait', quarantine: 'yes', ownWater: '' };
    const refused = await manager.post(url, form);
    expect(refused.status).toBe(409);
    expect(refused.body).toContain('a quarantine needs water of its own');
    const made = await manager.post(url, { ...form, ownWater: 'own pump, no pipe to the others' });
    expect(made.status, made.body).toBe(303);
    const tank = await bench.service.db.tank.findFirstOrThrow({ where: { name: 'Wait' } });
    tankId = tank.id;
    const rack = await bench.service.db.rack.create({
      data: { tankId, name: 'Wait rack', rows: 2, columns: 3, depthMm: 100 },
    });
    const place = { rackId: rack.id, row: 1 };
    await bench.service.db.slot.createMany({ data: [1, 2, 3].map((column) => ({ ...place, column })) });
    slot = await slotOf(rack.id, 'A1');
  });

  test('begins with the first lot that comes, and its days begin again with the next', async () => {
    onDay(92);
    expect((await post(`${hall.lots.B1.id}/placements`, { slot })).status).toBe(303);
    expect((await hand.get(`/tanks/${tankId}/quarantine`)).body).toContain('to be observed');
    onDay(100);
    const pestPurpose = { purpose: 'pests', until: 'No eggs at two looks', days: '40' };
    expect((await hand.post(`/tanks/${tankId}/quarantine`, pestPurpose)).status).toBe(303);
    const second = await bench.service.db.slot.findFirstOrThrow({ where: { rack: { tankId }, column: 2 } });
    const came = await post(`${hall.lots.A1.id}/placements`, { slot: second.id });
    expect(came.status, came.body).toBe(303);
    const { body } = await hand.get(`/tanks/${tankId}/quarantine`);
    expect(body).toContain('40 days');
    expect(body).toContain(`${hall.lots.A1.code} came`);
  });

  test('is a water of its own: a pest in it is no matter of the rest of the system', async () => {
    await post(`${hall.lots.A1.id}/conditions`, { state: 'pest', grade: '1', pest: 'montipora_slug' });
    const open = await bench.service.db.pestWatch.findFirst({
      where: { systemId: hall.systemId, endedAt: null },
    });
    expect(open).toMatchObject({ tankId, pest: 'montipora_slug' });
    const body = (await hand.get(`/stock/pests/${open?.id}`)).body;
    expect(body).toContain('2 lots share this water');
    expect(body).toContain('not known');
    await manager.post(`/stock/pests/${open?.id}/end`, { reason: 'It was a bristle worm' });
  });

  test('asks why before something is sold or moved out of it, and its end wants what was to be so', async () => {
    const { id, code } = hall.lots.B1;
    const sale = await post(`${id}/sales`, { pieces: '1' });
    expect(sale.status).toBe(409);
    expect(sale.body).toContain('is in quarantine for pests, which has not ended');
    const back = await slotOf(hall.wall, 'B2');
    expect((await post(`${id}/placements`, { slot: back })).status).toBe(409);
    expect((await post(`${id}/placements`, { slot: back, despite: 'Needs more light' })).status).toBe(303);
    expect((await hand.get(`/tanks/${tankId}/quarantine`)).body).toContain(`${code}</a>: Needs more light`);
    const end = `/tanks/${tankId}/quarantine/end`;
    const early = await hand.post(end, { met: 'yes', reason: '' });
    expect(early.status).toBe(409);
    expect(early.body).toContain(`since ${hall.lots.A1.code} came. Wait, or say why it ends anyway.`);
    onDay(141);
    expect((await hand.post(end, { met: '', reason: '' })).status).toBe(409);
    expect((await hand.post(end, { met: 'yes', reason: '' })).status).toBe(303);
    expect((await post(`${hall.lots.A1.id}/sales`, { pieces: '1' })).status).toBe(303);
  });
});

describe('the work of the day', () => {
  test('has the look when it is due, ticked off as a clean one; the water has one alert, not one a lot', async () => {
    onDay(142);
    const { A2 } = hall.lots;
    for (const { id } of [A2, other.lots.A1])
      await post(`${id}/conditions`, {
        state: 'pest',
        grade: '1',
        pest: 'acropora_flatworm',
        pestCount: '2',
      });
    await evaluateSystems(bench.service, [hall.systemId, other.systemId], bench.service.now());
    const alerts = await openAlerts(bench.service.pool, { systemId: other.systemId });
    expect(alerts.filter(({ rule }) => rule === 'pest-in-water')).toHaveLength(1);
    expect(alerts.filter(({ rule }) => rule === 'condition-noted')).toEqual([]);
    const due = async () => {
      const tasks = await tasksDue(bench.service.pool, [other.systemId], bench.service.now());
      return tasks.filter(({ key }) => key.startsWith('pest:'));
    };
    expect(await due()).toEqual([]);
    // Nothing is recorded of the temperature there: a week.
    onDay(149);
    const [task] = await due();
    expect(task).toMatchObject({ title: 'Look for: Acropora-eating flatworm', done: false, overdueDays: 0 });
    await bench.change((work) => doTask(work, task?.key ?? '', { at: work.now, amount: null, note: '' }));
    expect(await due()).toMatchObject([{ done: true }]);
  });
});

describe('a pest on a lot that stands in no water yet', () => {
  test('keeps it from a buyer, and puts the water of its first place under watch, with what was seen', async () => {
    onDay(170);
    const { db } = bench.service;
    const clean = await makeHall(bench);
    const kind = await db.kind.findUniqueOrThrow({ where: { code: 'goniastrea-retiformis' } });
    const lot = await bench.change((work) =>
      addLot(work, {
        ...{
          siteId: clean.siteId,
          kindId: kind.id,
          pieces: 4,
          arrivedAt: bench.service.now(),
          origin: 'A box',
        },
        ...{ permit: '', sizeMm: null, isMother: false, note: '', identification: null, slotIds: [] },
      }),
    );
    const look = { state: 'pest', grade: '1', pest: 'acropora_flatworm', pestCount: '5' };
    expect((await post(`${lot.id}/conditions`, look)).status).toBe(303);
    for (const act of ['sales', 'cuts'])
      expect((await post(`${lot.id}/${act}`, { pieces: '1', despite: 'wanted' })).status, act).toBe(409);
    const sale = await post(`${lot.id}/sales`, { pieces: '1' });
    expect(sale.body).toContain('It is in no water yet: put it into a quarantine');
    const slot = await slotOf(clean.empty, 'A1');
    const asked = await post(`${lot.id}/placements`, { slot });
    expect(asked.status).toBe(409);
    expect(asked.body).toContain('all that shares its water would be under watch');
    const placed = await post(`${lot.id}/placements`, { slot, despite: 'No quarantine is free' });
    expect(placed.status, placed.body).toBe(303);
    const open = await watch(clean.systemId);
    expect(open).toMatchObject({ pest: 'acropora_flatworm', openedWhy: `${lot.code} came with it.` });
    expect((await hand.get(`/stock/pests/${open?.id}`)).body).toContain('5 counted');
    expect((await post(`${clean.lots.A1.id}/sales`, { pieces: '1' })).status).toBe(409);
  });
});

describe('a tank whose water is joined or taken apart while it is watched', () => {
  let farm: Hall;
  const side = { slots: {} as Record<string, string>, tankId: '' };
  const tank = async (id: string, ownWater: string) => {
    const { name, version } = await bench.service.db.tank.findUniqueOrThrow({ where: { id } });
    const size = { lengthMm: '200', widthMm: '80', heightMm: '40' };
    return manager.post(`/farm/tanks/${id}`, { name, ...size, note: '', ownWater, sure: 'yes', version });
  };
  const open = () =>
    bench.service.db.pestWatch.findMany({
      where: { systemId: farm.systemId, endedAt: null },
      orderBy: { openedAt: 'asc' },
    });

  beforeAll(async () => {
    onDay(180);
    [hand, manager] = [await bench.as('hand', 'Nela'), await bench.as('manager', 'Ravi')];
    farm = await makeHall(bench);
    const size = { lengthMm: 600, widthMm: 400, heightMm: 400 };
    const made = await bench.service.db.tank.create({
      data: { systemId: farm.systemId, name: 'Side', ...size, ownWater: 'own pump' },
    });
    side.tankId = made.id;
    side.slots = (await layRack(bench, { tankId: made.id, lampId: null }, { name: 'Side rack' })).slots;
    await post(`${farm.lots.A2.id}/placements`, { slot: side.slots.A1 });
  });

  test('brings its watch along: all that shares the water then is under it, with what was seen', async () => {
    await post(`${farm.lots.A2.id}/conditions`, { state: 'pest', grade: '1', pest: 'porites_slug' });
    expect((await post(`${farm.lots.A1.id}/sales`, { pieces: '1' })).status).toBe(303);
    onDay(185);
    const joined = await tank(side.tankId, '');
    expect(joined.status, joined.body).toBe(303);
    const [watched, ...more] = await open();
    expect(more).toEqual([]);
    expect(watched).toMatchObject({ pest: 'porites_slug', tankId: null, openedAt: bench.service.now() });
    const { body } = await hand.get(`/stock/pests/${watched?.id}`);
    expect(body).toContain('The water of Side, which was under watch, was joined to it.');
    expect(body).toContain(farm.lots.A2.code);
    expect((await post(`${farm.lots.A1.id}/sales`, { pieces: '1' })).status).toBe(409);
    const onIt = await post(`${farm.lots.A2.id}/sales`, { pieces: '1', despite: 'wanted' });
    expect(onIt.body).toContain('It was seen on this lot');
  });

  test('stays under watch when it is taken off watched water, and can be undone', async () => {
    onDay(186);
    expect((await tank(side.tankId, 'valves shut')).status).toBe(303);
    expect((await open()).map(({ tankId }) => tankId)).toEqual([null, side.tankId]);
    expect((await open())[1]?.openedWhy).toContain('was taken off the water');
    const undo = /\/undo\/([0-9a-f-]+)/.exec((await manager.get('/farm')).body)?.[0] ?? '';
    const undone = await manager.post(undo, {});
    expect(undone.status, undone.body).toBe(303);
    expect((await open()).map(({ tankId }) => tankId)).toEqual([null]);
    await expect(
      bench.service.pool.query(
        `WITH apart AS (INSERT INTO pest_watch (id, system_id, tank_id, pest, opened_at)
           VALUES (gen_random_uuid(), $1, $2, 'unnamed', now())) UPDATE tank SET own_water = '' WHERE id = $2`,
        [farm.systemId, side.tankId],
      ),
    ).rejects.toThrow('tank_water_watched');
  });
});

describe('pieces that were cut or split off before the pest was seen', () => {
  test('are among what left the water, also where they never stood in it themselves', async () => {
    onDay(190);
    const [from, to] = [await makeHall(bench), await makeHall(bench)];
    const slot = await slotOf(to.empty, 'A1');
    const split = await post(`${from.lots.A1.id}/splits`, { pieces: '2', slot: [slot] });
    expect(split.status, split.body).toBe(303);
    const cut = await post(`${from.lots.B1.id}/cuts`, { pieces: '3', despite: 'a branch broke' });
    expect(cut.status, cut.body).toBe(303);
    const made = await bench.service.db.lot.findMany({
      where: { parentId: { in: [from.lots.A1.id, from.lots.B1.id] } },
      orderBy: { pieces: 'asc' },
    });
    const [moved, sold] = made;
    onDay(191);
    const sale = await post(`${sold?.id}/sales`, { pieces: '1', buyer: 'Reef room' });
    expect(sale.status, sale.body).toBe(303);
    onDay(195);
    await post(`${from.lots.A1.id}/conditions`, { state: 'pest', grade: '1', pest: 'porites_slug' });
    const { body } = await hand.get(`/stock/pests/${(await watch(from.systemId))?.id}`);
    const left = body.slice(body.indexOf('What left this water'));
    expect(left).toMatch(new RegExp(`${sold?.code}[\\s\\S]*?Sold to Reef room`));
    expect(left).toMatch(new RegExp(`${moved?.code}[\\s\\S]*?Moved to Shallow`));
  });
});

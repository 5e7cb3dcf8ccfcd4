import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { doPlannedMove, keepMovePlan } from '../../src/racks/move-plans/move-plans.ts';
import { doTask, moveTasks } from '../../src/rounds/tasks/tasks.ts';
import { addLot } from '../../src/stock/lots/lots.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { type Ground, layGround, layRack, survey } from '../farm/ground.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let manager: Visitor;
let hand: Visitor;
let ground: Ground;
let kindId: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  manager = await bench.as('manager', 'Ada Wren');
  hand = await bench.as('hand', 'Nor Abell');
  kindId = (await bench.service.db.kind.findUniqueOrThrow({ where: { code: 'goniastrea-retiformis' } })).id;
});
afterAll(() => bench.close());
beforeEach(async () => {
  bench.at(benchNow);
  ground = await layGround(bench, { name: `Rack ${uuidv7().slice(-5)}`, rows: 2, columns: 4 });
});

/** A brain coral of one piece, standing in a slot since the beginning of the month, or nowhere. */
const lot = (slot: string | null, more: object = {}) =>
  bench.change((work) =>
    addLot(work, {
      siteId: ground.siteId,
      kindId,
      pieces: 1,
      arrivedAt: new Date('2026-11-01T09:00:00Z'),
      origin: 'Grown here',
      permit: '',
      sizeMm: 30,
      isMother: false,
      note: '',
      identification: null,
      slotIds: slot === null ? [] : [ground.slots[slot] as string],
      ...more,
    }),
  );
const slot = (name: string) => ground.slots[name] as string;
const keep = (...moves: [string, string | null][]) =>
  bench.change((work) =>
    keepMovePlan(work, ground.siteId, {
      name: 'Wrong places',
      moves: moves.map(([lotId, to]) => ({ lotId, slotIds: to === null ? [] : [slot(to)], why: '' })),
    }),
  );
const movesOf = (planId: string) =>
  bench.service.db.plannedMove.findMany({ where: { planId }, orderBy: { position: 'asc' } });
const doMove = (moveId: string) =>
  bench.change(
    (work) => doPlannedMove(work, { moveId, at: bench.service.now(), note: '', despite: '' }),
    hand.id,
  );
const standsIn = async (lotId: string) =>
  (await bench.service.db.placementSlot.findMany({ where: { placement: { lotId, toAt: null } } })).map(
    ({ slotId }) => Object.keys(ground.slots).find((name) => ground.slots[name] === slotId),
  );

describe('a plan of moves', () => {
  const rackName = async () =>
    (await bench.service.db.rack.findUniqueOrThrow({ where: { id: ground.rackId } })).name;

  test('is walked in its order, each move one placement, and has ended after the last', async () => {
    const [a, b] = [await lot('A1'), await lot('A2')];
    const { id } = await keep([b.id, 'A3'], [a.id, 'A2']);
    const [first, second] = await movesOf(id);
    const rack = await rackName();
    await expect(doMove(second?.id ?? '')).rejects.toThrow(
      `${b.code} is still in ${rack}, A2: move 1 comes first.`,
    );
    await doMove(first?.id ?? '');
    await doMove(second?.id ?? '');
    expect([await standsIn(a.id), await standsIn(b.id)]).toEqual([['A2'], ['A3']]);
    const plan = await bench.service.db.movePlan.findUniqueOrThrow({
      where: { id },
      include: { moves: true },
    });
    expect(plan).toMatchObject({ endedAt: benchNow, endReason: 'Its last move is settled.' });
    expect(plan.moves.every((move) => move.placementId !== null && move.doneById === hand.id)).toBe(true);
    await expect(doMove(first?.id ?? '')).rejects.toThrow('already done or left out');
    const lines = await bench.service.db.journalLine.findMany({ where: { subjectId: id } });
    expect(lines.map(({ kind }) => kind).sort()).toEqual([
      'move_plan.kept',
      'planned_move.done',
      'planned_move.done',
    ]);
  });

  test('lets two lots change places, one of them lifted out, within one minute', async () => {
    const [a, b] = [await lot('A1'), await lot('A2')];
    const { id } = await keep([a.id, null], [b.id, 'A1'], [a.id, 'A2']);
    for (const { id: moveId } of await movesOf(id)) await doMove(moveId);
    expect([await standsIn(a.id), await standsIn(b.id)]).toEqual([['A2'], ['A1']]);
  });

  test('lets a lot wait in a slot and go on within the same minute', async () => {
    const a = await lot('A1');
    const { id } = await keep([a.id, 'A3'], [a.id, 'A2']);
    for (const { id: moveId } of await movesOf(id)) await doMove(moveId);
    expect(await standsIn(a.id)).toEqual(['A2']);
  });

  test('refuses a move whose place was taken meanwhile, and says by whom', async () => {
    const [a, stranger] = [await lot('A1'), await lot('B1')];
    const { id } = await keep([a.id, 'A4']);
    await bench.change((work) =>
      moveLot(work, { lotId: stranger.id, slotIds: [slot('A4')], at: benchNow, reason: '' }),
    );
    const [move] = await movesOf(id);
    const rack = await rackName();
    await expect(doMove(move?.id ?? '')).rejects.toThrow(`${stranger.code} is in ${rack}, A4`);
    expect(await standsIn(a.id)).toEqual(['A1']);
  });

  test('of two hands doing one move at once moves the lot once', async () => {
    const a = await lot('A1');
    const { id } = await keep([a.id, 'A4'], [(await lot('B1')).id, 'B2']);
    const [move] = await movesOf(id);
    const both = await Promise.allSettled([doMove(move?.id ?? ''), doMove(move?.id ?? '')]);
    expect(both.map(({ status }) => status).sort()).toEqual(['fulfilled', 'rejected']);
    expect(await bench.service.db.placement.count({ where: { lotId: a.id } })).toBe(2);
  });

  test('keeps no lot and no place that another running plan has, nor one of another site', async () => {
    const [a, b] = [await lot('A1'), await lot('A2')];
    await keep([a.id, 'A3']);
    await expect(keep([a.id, 'A4'])).rejects.toThrow('already in another plan');
    await expect(keep([b.id, 'A3'])).rejects.toThrow('already in another plan');
    await expect(
      bench.change((work) =>
        keepMovePlan(work, ground.siteId, {
          name: 'x',
          moves: [{ lotId: b.id, slotIds: [uuidv7()], why: '' }],
        }),
      ),
    ).rejects.toThrow('not there any more');
  });
});

describe('moves on a round', () => {
  const tasks = () => moveTasks(bench.service.pool, [ground.systemId], bench.service.now());

  test('come each once its place is free, and are ticked off as moves', async () => {
    const [a, b] = [await lot('A1'), await lot('A2')];
    await keep([b.id, 'A3'], [a.id, 'A2']);
    const [first, second] = await tasks();
    expect(first).toMatchObject({ work: 'move', held: null, done: false, overdueDays: 0 });
    expect(second?.held).toContain(`${b.code} is still in`);
    await bench.change(
      (work) => doTask(work, first?.key ?? '', { at: benchNow, amount: null, note: '' }),
      hand.id,
    );
    const after = await tasks();
    expect(after.map(({ done, held }) => [done, held])).toEqual([
      [true, null],
      [false, null],
    ]);
    bench.at('2026-11-26T08:00:00Z');
    expect((await tasks()).map(({ overdueDays }) => overdueDays)).toEqual([2]);
  });
});

describe('planning moves', () => {
  const query = (more: Record<string, string>) =>
    `/moves/new?${new URLSearchParams({ which: 'wrong', use: ground.rackId, emptyRack: '', codes: '', ...more })}`;
  const kept = (page: string) => {
    const [, json = ''] = /name="moves" value="([^"]*)"/.exec(page) ?? [];
    return json.replaceAll('&quot;', '"');
  };

  test('sends what stands too bright to a slot that suits, tells why, and keeps it as a plan to walk', async () => {
    const a = await lot('A1');
    await survey(bench, ground, '2026-10-01T09:00:00Z', null, {
      A1: 260,
      A2: 80,
      A3: 82,
      A4: 20,
      B1: 300,
      B2: 250,
      B3: 260,
      B4: 300,
    });
    const page = (await manager.get(query({}))).body;
    expect(page).toContain(a.code);
    expect(page).toContain('is above 200, the most its kind can take');
    const answer = await manager.post('/moves', { name: 'Dimmer', moves: kept(page), asked: '' });
    expect(answer.status).toBe(303);
    const plan = (await hand.get(answer.location ?? '')).body;
    expect(plan).toMatch(/0 of 1 move done/);
    const [, move = ''] = /name="move" value="([^"]+)"/.exec(plan) ?? [];
    expect((await hand.post(`${answer.location}/record`, { move })).status).toBe(303);
    expect(['A2', 'A3']).toContain((await standsIn(a.id))[0]);
    expect((await hand.get(answer.location ?? '')).body).toContain('Its last move is settled.');
    expect((await hand.get('/moves')).body).toContain('Dimmer');
  });

  test('says of a lot that fits nowhere what would have to change', async () => {
    const a = await lot('A1');
    await bench.service.db.slot.update({ where: { id: slot('A2') }, data: { jet: true } });
    await bench.service.db.lampSetting.create({
      data: { lampId: ground.lampId, at: new Date('2026-09-01T00:00:00Z'), percent: 80 },
    });
    await survey(bench, ground, '2026-10-01T09:00:00Z', 80, {
      A1: 260,
      A2: 80,
      A3: 230,
      A4: 240,
      B1: 900,
      B2: 900,
      B3: 900,
      B4: 900,
    });
    const page = (await manager.get(query({}))).body;
    expect(page).toContain(`>${a.code}</a>`);
    expect(page).toContain('1 slot on');
    expect(page).toContain('would do if no jet struck it');
    expect(page).toMatch(/would do if the lamps Bars were at \d+ % instead of 80 %/);
  });

  test('leaves a lot that is marked to stay, and sends one that is kept apart to a quarantine tank alone', async () => {
    const [stays, apart] = [await lot('A1'), await lot(null)];
    const edit = { kindId, origin: '', permit: '', sizeMm: '30', note: '', isMother: '', version: 1 };
    expect((await hand.post(`/lots/${stays.id}/details`, { ...edit, staysPut: 'yes' })).status).toBe(303);
    const until = { ...edit, quarantineUntil: '2026-12-24' };
    expect((await hand.post(`/lots/${apart.id}/details`, until)).status).toBe(303);
    expect((await hand.get(`/stock/${apart.code}`)).body).toContain('Kept apart until');
    expect((await hand.get(`/stock/${apart.code}/details`)).body).toContain('value="2026-12-24"');
    await survey(bench, ground, '2026-10-01T09:00:00Z', null, 80);
    const page = (await manager.get(query({ which: 'codes', codes: `${stays.code} ${apart.code}` }))).body;
    expect(page).toContain('It is marked to stay in its place.');
    expect(page).toContain('in a quarantine tank');
    const tank = await bench.service.db.tank.create({
      data: {
        systemId: ground.systemId,
        name: 'Apart',
        lengthMm: 900,
        widthMm: 500,
        heightMm: 300,
        quarantine: true,
      },
    });
    const rack = await layRack(
      bench,
      { tankId: tank.id, lampId: ground.lampId },
      { name: 'Q1', rows: 1, columns: 2 },
    );
    await survey(bench, rack, '2026-10-01T09:00:00Z', null, 80);
    const wish = { which: 'codes', codes: apart.code, use: [ground.rackId, rack.rackId] };
    const draft = (await manager.send('/api/move-plans/drafts', wish)).json() as { lines: { to: string }[] };
    expect(draft.lines.map(({ to }) => to)).toEqual(['Q1, A1']);
  });

  test('empties a rack, and asks again for what is missing', async () => {
    const a = await lot('A1');
    const other = await layRack(
      bench,
      { tankId: ground.tankId, lampId: ground.lampId },
      { name: `Other ${uuidv7().slice(-5)}`, rows: 1, columns: 3 },
    );
    await survey(bench, ground, '2026-10-01T09:00:00Z', null, 80);
    await survey(bench, other, '2026-10-01T09:00:00Z', null, 82);
    const page = (await manager.get(query({ which: 'rack', emptyRack: ground.rackId, use: other.rackId })))
      .body;
    expect(page).toContain('This rack is being emptied.');
    const moves = JSON.parse(kept(page)) as { lotId: string; slotIds: string[] }[];
    expect(moves.map(({ lotId }) => lotId)).toEqual([a.id]);
    expect(Object.values(other.slots)).toContain(moves[0]?.slotIds[0]);
    const asked = await manager.get(query({ which: 'rack' }));
    expect(asked.status).toBe(422);
    expect(asked.body).toContain('Choose the rack to empty.');
    expect((await manager.get('/moves/new?which=codes&codes=XX-000&use=')).status).toBe(422);
  });

  test('is for managers; leaving out and ending say why, and a stale page is told', async () => {
    expect((await hand.get('/moves/new')).status).toBe(403);
    const [a, b] = [await lot('A1'), await lot('A2')];
    const { id } = await keep([a.id, 'A3'], [b.id, 'A4']);
    const [move] = await movesOf(id);
    expect((await hand.post(`/moves/${id}/omission`, { move: move?.id, omission: '' })).status).toBe(422);
    expect((await hand.post(`/moves/${id}/omission`, { move: move?.id, omission: 'Pale' })).status).toBe(303);
    expect((await hand.get(`/moves/${id}`)).body).toContain('left out: Pale');
    expect((await hand.post(`/moves/${id}/end`, { version: 2, endReason: 'x' })).status).toBe(403);
    expect((await manager.post(`/moves/${id}/end`, { version: 1, endReason: 'x' })).status).toBe(409);
    expect((await manager.post(`/moves/${id}/end`, { version: 2, endReason: 'Rack rebuilt' })).status).toBe(
      303,
    );
    const told = (await manager.get(`/api/move-plans/${id}`)).json() as {
      endReason: string;
      moves: object[];
    };
    expect(told).toMatchObject({
      endReason: 'Rack rebuilt',
      moves: [{ waitsFor: null }, { waitsFor: null }],
    });
    await keep([b.id, 'A4']);
  });
});

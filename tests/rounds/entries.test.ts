import { uuidv7 } from 'uuidv7';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { slotOccupancy } from '../../src/stock/places/occupancy.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { lotReadiness } from '../../src/stock/sales/readiness.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import {
  type Bench,
  benchNow,
  browse,
  type Answer as HttpAnswer,
  startBench,
  type Visitor,
} from '../support/service.ts';
import { begin, type Hall, makeHall, planRound } from './hall.ts';

let bench: Bench;
let hall: Hall;
let hand: Visitor;
let roundId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await makeHall(bench);
  hand = await bench.as('hand', 'Nor Abell');
});
afterAll(() => bench.close());
beforeEach(async () => {
  bench.at(benchNow);
  hall = await makeHall(bench);
  roundId = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
});

const at = '2026-11-24T08:00:00Z';
const entry = (kind: string, more: object) => ({ id: uuidv7(), kind, at, ...more });
const paling = (lotId = hall.lots.A1.id, more: object = {}) =>
  entry('condition', { lotId, rackId: hall.window, state: 'paling', grade: 2, label: 'A1', ...more });
const well = (rackId = hall.window) => entry('rack_well', { rackId });
const send = (entries: object[], by = hand, headers = {}) =>
  by.send(`/api/rounds/${roundId}/entries`, entries, headers);
const outcomes = (answer: HttpAnswer) =>
  (answer.json() as { entries: { outcome: string }[] }).entries.map(({ outcome }) => outcome);
const here = () => Object.values(hall.lots).map((lot) => lot.id);
const conditions = () =>
  bench.service.db.condition.findMany({ where: { lotId: { in: here() } }, orderBy: { at: 'asc' } });
const kept = (where: object = {}) => bench.service.db.roundEntry.findMany({ where: { roundId, ...where } });
const fedHere = () => bench.service.db.feeding.findMany({ where: { systemId: hall.systemId } });

describe('each entry counts once, for ever', () => {
  test('sent again it is there already and changes nothing', async () => {
    const list = [
      paling(),
      well(),
      entry('feeding', { systemId: hall.systemId, food: 'Fine', pumpsOffMin: 20 }),
    ];
    expect(outcomes(await send(list))).toEqual(['taken', 'taken', 'taken']);
    bench.at('2026-12-24T08:00:00Z');
    expect(outcomes(await send(list))).toEqual(['there', 'there', 'there']);
    expect(await conditions()).toMatchObject([{ state: 'paling', grade: 2, at: new Date(at) }]);
    expect(await fedHere()).toHaveLength(1);
    expect(await kept()).toHaveLength(3);
  });

  test('by two tablets at the same moment it is taken by one of them', async () => {
    const other = await bench.as('hand', 'Two');
    const list = Array.from({ length: 8 }, (_, i) => paling(hall.lots.A1.id, { note: `look ${i}` }));
    const answers = await Promise.all([send(list), send(list, other), send(list)]);
    expect(answers.map(({ status }) => status)).toEqual([200, 200, 200]);
    const each = list.map((_, i) => answers.map((answer) => outcomes(answer)[i]).sort());
    expect(each).toEqual(list.map(() => ['taken', 'there', 'there'].sort()));
    expect(await conditions()).toHaveLength(8);
  });

  test('a pest is told with its name and count, and what goes on from that look is of the same pest', async () => {
    const lotId = hall.lots.A1.id;
    const sight = { state: 'pest', grade: null, pest: 'acropora_flatworm', pestCount: 3 };
    expect(outcomes(await send([paling(lotId, sight)]))).toEqual(['taken']);
    const end = (await hand.get(`/rounds/${roundId}/end`)).body;
    expect(end).toContain('Acropora-eating flatworm, 3 counted');
    bench.at('2026-11-24T08:20:00Z');
    const later = { ...sight, pest: '', pestCount: '', compared: 'worse', at: '2026-11-24T08:05:00Z' };
    expect(outcomes(await send([paling(lotId, later)]))).toEqual(['taken']);
    const next = await begin(bench, hall, await planRound(bench, hall), '2026-11-24');
    const [look] = await bench.service.db.condition.findMany({ where: { lotId }, orderBy: { at: 'desc' } });
    const pass = { ...well(), at: '2026-11-24T08:10:00Z', asBefore: look?.id };
    expect(outcomes(await hand.send(`/api/rounds/${next}/entries`, [pass]))).toEqual(['taken']);
    const where = { systemId: hall.systemId };
    const watches = await bench.service.db.pestWatch.findMany({ where, include: { sightings: true } });
    expect(watches.map(({ pest, sightings }) => [pest, sightings.length])).toEqual([
      ['acropora_flatworm', 3],
    ]);
  });

  test('a key that stood for something else is not taken for this', async () => {
    const first = paling();
    await send([first]);
    const answer = await send([{ ...well(), id: first.id }]);
    expect(outcomes(answer)).toEqual(['refused']);
    expect(answer.json()).toMatchObject({ entries: [{ held: false }] });
    expect(await kept()).toHaveLength(1);
  });
});

describe('an entry that is refused', () => {
  test('stands in nobody’s way, and is kept with its reason', async () => {
    const wrong = [
      paling(uuidv7()),
      entry('condition', { lotId: hall.lots.A1.id, state: 'sad' }),
      entry('song', {}),
      entry('condition', { lotId: hall.lots.A1.id, state: 'lost' }),
    ];
    const answer = await send([wrong[0], well(), ...wrong.slice(1), paling()] as object[]);
    expect(outcomes(answer)).toEqual(['refused', 'taken', 'refused', 'refused', 'refused', 'taken']);
    expect(await kept({ kind: 'refused' })).toHaveLength(4);
    const end = (await hand.get(`/rounds/${roundId}/end`)).body;
    expect(end).toContain('This lot does not exist');
    expect(end).toContain('how many of the 5 pieces are left');
    expect((await hand.get(`/rounds/${roundId}`)).body).toContain('4 notes were not taken');
  });

  test('is refused again with the same words, whatever has changed since', async () => {
    const wrong = paling(hall.lots.A1.id, { state: 'lost' });
    const [first, again] = [await send([wrong]), await send([wrong])];
    expect(again.json()).toEqual(first.json());
    expect(await kept()).toHaveLength(1);
  });

  test('is put right by entering it again, which closes it', async () => {
    const wrong = paling(hall.lots.A1.id, { state: 'lost' });
    await send([wrong]);
    const path = `/rounds/${roundId}/racks/${hall.window}/lots/${hall.lots.A1.id}?mends=${wrong.id}`;
    expect((await hand.get(`/rounds/${roundId}/end`)).body).toContain(path.replace('=', '&#x3D;'));
    expect((await hand.get(path)).body).toContain(`name="mends" value="${wrong.id}"`);
    const form = {
      id: uuidv7(),
      kind: 'condition',
      rackId: hall.window,
      lotId: hall.lots.A1.id,
      state: 'lost',
      pieces: '3',
      mends: wrong.id,
      next: `/rounds/${roundId}`,
    };
    expect((await hand.get(`/rounds/${roundId}`)).body).toContain('not taken');
    expect((await hand.post(`/rounds/${roundId}/entries`, form)).location).toBe(`/rounds/${roundId}`);
    expect((await hand.get(`/rounds/${roundId}`)).body).not.toContain('not taken');
    expect(await bench.service.db.lot.findUnique({ where: { id: hall.lots.A1.id } })).toMatchObject({
      pieces: 3,
    });
  });

  test('is left out by a person’s word', async () => {
    const wrong = paling(uuidv7());
    await send([wrong]);
    expect((await hand.get(`/rounds/${roundId}/end`)).body).toContain('This lot does not exist');
    expect((await hand.post(`/rounds/${roundId}/refused/${wrong.id}`, {})).status).toBe(422);
    await hand.post(`/rounds/${roundId}/refused/${wrong.id}`, { why: 'noted twice' });
    const end = (await hand.get(`/rounds/${roundId}/end`)).body;
    expect(end).not.toContain('This lot does not exist');
    expect(end).toContain('noted twice');
  });

  test('at which the service itself fails is set aside like one that it refuses', async () => {
    const { pool } = bench.service;
    await pool.query(`
      CREATE OR REPLACE FUNCTION break_at_a_note() RETURNS trigger LANGUAGE plpgsql AS
      $$ BEGIN RAISE EXCEPTION 'page 7 of this table is damaged'; END $$;
      CREATE TRIGGER broken BEFORE INSERT ON condition FOR EACH ROW
        WHEN (NEW.note = 'damaged here') EXECUTE FUNCTION break_at_a_note()`);
    const bad = paling(hall.lots.A1.id, { note: 'damaged here' });
    const answer = await send([well(), bad, paling(hall.lots.A2.id)]);
    await pool.query('DROP TRIGGER broken ON condition');
    expect(outcomes(answer)).toEqual(['taken', 'refused', 'taken']);
    expect(answer.json()).toMatchObject({ entries: [{}, { held: true }, {}] });
    const end = (await hand.get(`/rounds/${roundId}/end`)).body;
    expect(end).toContain('The service failed at this note');
    expect(end).toContain('damaged here');
  });

  test('that has no key stays with the tablet, whoever stands behind it', async () => {
    const answer = await send([
      { kind: 'rack_well' },
      'nonsense',
      { id: 'R46', kind: 'count' },
      well(),
    ] as object[]);
    expect(outcomes(answer)).toEqual(['refused', 'refused', 'refused', 'taken']);
    expect(answer.json()).toMatchObject({ entries: [{ held: false }, { held: false }, { id: 'R46' }, {}] });
  });

  test('that only the tablet held is put right by another, or left out with a reason, once', async () => {
    const unknown = uuidv7();
    expect(outcomes(await send([paling(hall.lots.A1.id, { mends: unknown })]))).toEqual(['taken']);
    const gone = entry('discarded', { label: 'A2', what: 'A2: paling', why: 'noted twice' });
    expect(outcomes(await send([gone]))).toEqual(['taken']);
    expect((await hand.get(`/rounds/${roundId}/end`)).body).toContain('A2: paling');
    const taken = paling();
    await send([taken]);
    const answer = await send([paling(hall.lots.A1.id, { mends: taken.id })]);
    expect(outcomes(answer)).toEqual(['refused']);
    expect(await conditions()).toHaveLength(2);
  });

  test('a list that is none is refused as a whole', async () => {
    expect((await send({ kind: 'rack_well' } as unknown as object[])).status).toBe(422);
    expect((await send([])).status).toBe(422);
    expect((await hand.send(`/api/rounds/${uuidv7()}/entries`, [well()])).status).toBe(404);
  });
});

describe('what an entry does', () => {
  test('a lost piece goes off the count; the last one leaves its slot', async () => {
    const lost = (lotId: string, more: object) => paling(lotId, { state: 'lost', grade: null, ...more });
    expect(outcomes(await send([lost(hall.lots.A1.id, { pieces: 4 }), lost(hall.lots.A2.id, {})]))).toEqual([
      'taken',
      'taken',
    ]);
    const lots = await bench.service.db.lot.findMany({
      where: { id: { in: [hall.lots.A1.id, hall.lots.A2.id] } },
    });
    expect(lots.map((lot) => lot.pieces).sort()).toEqual([0, 4]);
    const rack = (await hand.get(`/rounds/${roundId}/racks/${hall.window}`)).body;
    expect(rack).toMatch(new RegExp(`${hall.lots.A2.code}[\\s\\S]*off the rack`));
  });

  describe('pieces that went leave', () => {
    const slotsOf = async (lotId: string) => {
      const held = { placement: { lotId, toAt: null }, toAt: null };
      const rows = await bench.service.db.placementSlot.findMany({ where: held, include: { slot: true } });
      return rows.map(({ slot }) => `${String.fromCharCode(64 + slot.row)}${slot.column}`).sort();
    };
    const lost = (pieces: number, emptied: unknown) =>
      paling(hall.lots.A1.id, { state: 'lost', grade: null, pieces, emptied });
    beforeEach(async () => {
      const free = { rackId: hall.window, NOT: { row: 1, column: 2 } };
      const slots = await bench.service.db.slot.findMany({ where: free });
      const slotIds = slots.map(({ id }) => id);
      bench.at('2026-11-24T07:00:00Z');
      await bench.change((work) =>
        moveLot(work, { lotId: hall.lots.A1.id, slotIds, at: new Date('2026-11-24T07:00:00Z'), reason: '' }),
      );
      bench.at(benchNow);
    });

    test('the slots that were named, and come back to them with what is taken back', async () => {
      const said = lost(3, 'B3 a3');
      expect(outcomes(await send([said]))).toEqual(['taken']);
      expect(await slotsOf(hall.lots.A1.id)).toEqual(['A1', 'B1', 'B2']);
      expect(outcomes(await send([entry('take_back', { entryId: said.id })]))).toEqual(['taken']);
      expect(await slotsOf(hall.lots.A1.id)).toEqual(['A1', 'A3', 'B1', 'B2', 'B3']);
    });

    test('the slots that were ticked on a form, after a count too', async () => {
      const { id, kind } = entry('count', {});
      const form = {
        id,
        kind,
        lotId: hall.lots.A1.id,
        rackId: hall.window,
        pieces: '3',
        emptied: ['A1', 'B1'],
      };
      await hand.post(`/rounds/${roundId}/entries`, form);
      expect(await slotsOf(hall.lots.A1.id)).toEqual(['A3', 'B2', 'B3']);
    });

    test.each([
      ['all of them', 'A1 A3 B1 B2 B3'],
      ['another lot’s', 'A2'],
      ['none', ''],
    ])('no slot where %s were named: that is asked later', async (_, emptied) => {
      expect(outcomes(await send([lost(4, emptied)]))).toEqual(['taken']);
      expect(await slotsOf(hall.lots.A1.id)).toHaveLength(5);
      expect((await hand.get('/')).body).toContain('say which are empty');
    });
  });

  test('a count is a recount, alone or beside a condition', async () => {
    await send([
      entry('count', { lotId: hall.lots.A1.id, pieces: 7 }),
      paling(hall.lots.B1.id, { pieces: 2 }),
    ]);
    const ledger = await bench.service.db.ledgerEntry.findMany({
      where: { reason: 'recount', lotId: { in: here() } },
    });
    expect(ledger.map((line) => line.change).sort()).toEqual([-3, 2]);
  });

  test('one tap for a rack says nothing of a lot that was not well before', async () => {
    const { pool } = bench.service;
    await pool.query(
      `INSERT INTO condition (id, lot_id, at, state) VALUES ($1, $2, '2026-11-23T08:00:00Z', 'bleached')`,
      [uuidv7(), hall.lots.A1.id],
    );
    const rack = (await hand.get(`/rounds/${roundId}/racks/${hall.window}`)).body;
    expect(rack).toContain('All as before');
    expect(rack).toContain('1 lot sick: no worse; 1 other lot: well');
    expect(rack).toMatch(/bleached, yesterday/);
    const tap = well();
    await send([tap]);
    const [noted] = await kept({ id: tap.id });
    expect(noted?.detail).toMatchObject({ well: 1, apart: [hall.lots.A1.id] });
    expect(await conditions()).toHaveLength(1);
  });

  test('a lot that is moved after its rack was passed keeps that look; what is passed where it stood no more is none', async () => {
    const { code, id } = hall.lots.A1;
    await send([well()]);
    bench.at('2026-11-24T08:10:00Z');
    const { id: slotId } = await bench.service.db.slot.findFirstOrThrow({ where: { rackId: hall.empty } });
    expect((await hand.post(`/lots/${id}/placements`, { slot: slotId })).status).toBe(303);
    bench.at('2026-11-24T08:20:00Z');
    await send([{ ...well(), at: '2026-11-24T08:15:00Z' }]);
    const page = (await hand.get(`/stock/${code}`)).body;
    expect(page).toMatch(/<b>Well<\/b><span class="small">[^<]*08:00/);
    expect(page).not.toContain('Nobody has noted how it looks');
    const look = await bench.service.pool.query('SELECT at FROM lot_look WHERE lot_id = $1', [id]);
    expect(look.rows).toEqual([{ at: new Date(at) }]);
  });

  describe('"all as before"', () => {
    let [sick, other] = ['', ''];
    const seen = async (lotId: string, state: string, grade: number | null = null) => {
      const id = uuidv7();
      await bench.service.pool.query(
        `INSERT INTO condition (id, lot_id, at, state, grade) VALUES ($1, $2, '2026-11-23T08:00:00Z', $3::"ConditionState", $4)`,
        [id, lotId, state, grade],
      );
      return id;
    };
    const pass = (asBefore: string[], more: object = {}) => ({
      ...well(),
      asBefore: asBefore.join(' '),
      ...more,
    });
    const standing = async () => (await conditions()).filter(({ voidedAt }) => voidedAt === null);
    beforeEach(async () => {
      sick = await seen(hall.lots.A1.id, 'receding', 2);
      other = await seen(hall.lots.A2.id, 'paling', 1);
    });

    test('is a look "no worse" at each lot that was shown sick, never a word of health, and a look as well at the others', async () => {
      const tap = pass([sick, other]);
      expect(outcomes(await send([tap]))).toEqual(['taken']);
      expect((await standing()).slice(2)).toMatchObject([
        { lotId: hall.lots.A1.id, state: 'receding', grade: 2, compared: 'as_before', at: new Date(at) },
        { lotId: hall.lots.A2.id, state: 'paling', grade: 1, compared: 'as_before' },
      ]);
      const rack = (await hand.get(`/rounds/${roundId}/racks/${hall.window}`)).body;
      expect(rack).toContain('2 no worse, others well 08:00');
      expect((await hand.get(`/stock/${hall.lots.A1.code}`)).body).toContain(
        'Receding, about a third, no worse',
      );
      const [look] = (
        await bench.service.pool.query('SELECT state, at FROM lot_look WHERE lot_id = $1', [hall.lots.A1.id])
      ).rows;
      expect(look).toMatchObject({ state: 'receding', at: new Date(at) });
      expect(outcomes(await send([tap]))).toEqual(['there']);
      expect(await standing()).toHaveLength(4);
    });

    test('leaves alone what was looked at since it was shown, what has an entry of its own, and lots of other racks', async () => {
      const wall = await seen(hall.lots.B1.id, 'paling');
      await send([paling(hall.lots.A1.id, { state: 'bleached' }), pass([sick, other, wall])]);
      expect((await standing()).map(({ state, compared }) => [state, compared])).toEqual([
        ['receding', null],
        ['paling', null],
        ['paling', null],
        ['bleached', null],
        ['paling', 'as_before'],
      ]);
      const second = await bench.as('hand', 'Second');
      await send([pass([other])], second);
      expect(await standing()).toHaveLength(5);
    });

    test('gives way to an entry of its own that another tablet brings later, though it was tapped before', async () => {
      const late = paling(hall.lots.A1.id, { state: 'bleached', at: '2026-11-24T07:55:00Z' });
      await send([pass([sick, other])]);
      await send([late]);
      const [last] = (await standing()).filter(({ lotId }) => lotId === hall.lots.A1.id).slice(-1);
      expect(last).toMatchObject({ state: 'bleached' });
    });

    test('taken back, the rack and its lots are as if nobody had passed', async () => {
      const tap = pass([sick, other]);
      await send([tap, entry('take_back', { entryId: tap.id })]);
      expect(await standing()).toHaveLength(2);
      const rack = (await hand.get(`/rounds/${roundId}/racks/${hall.window}`)).body;
      expect(rack).toContain('0 of 2 racks');
      expect(rack).toContain('2 lots sick: no worse');
      const look = await bench.service.pool.query('SELECT at FROM lot_look WHERE lot_id = $1', [
        hall.lots.A1.id,
      ]);
      expect(look.rows).toEqual([{ at: new Date('2026-11-23T08:00:00Z') }]);
    });
  });

  describe('taken back', () => {
    const back = (entryId: string, more: object = {}) => entry('take_back', { entryId, ...more });

    test('a look counts no more and its alert closes with that reason; sent twice, by two people, it is one undoing', async () => {
      const wrong = paling(hall.lots.A1.id, { state: 'bleached' });
      await send([wrong]);
      const alerts = (open: boolean) =>
        bench.service.db.alert.findMany({
          where: { subjectId: hall.lots.A1.id, clearedAt: open ? null : { not: null } },
        });
      await evaluateSystems(bench.service, [hall.systemId], new Date('2026-11-24T08:05:00Z'));
      expect(await alerts(true)).toHaveLength(1);
      const undo = back(wrong.id);
      const second = await bench.as('hand', 'Third');
      const first = await send([undo]);
      expect(first.json()).toMatchObject({ entries: [{ outcome: 'taken' }] });
      expect(outcomes(await send([undo]))).toEqual(['there']);
      expect(outcomes(await send([back(wrong.id)], second))).toEqual(['taken']);
      await evaluateSystems(bench.service, [hall.systemId], new Date('2026-11-24T08:06:00Z'));
      expect(await alerts(true)).toEqual([]);
      expect(await alerts(false)).toMatchObject([{ clearedReason: expect.stringContaining('voided') }]);
      expect(await conditions()).toMatchObject([{ voidReason: 'Taken back on the round.' }]);
      expect(outcomes(await send([wrong]))).toEqual(['there']);
      expect((await hand.get(`/rounds/${roundId}/racks/${hall.window}`)).body).not.toContain('bleached,');
    });

    test('before it came, it does nothing when it comes', async () => {
      const late = paling();
      expect(outcomes(await send([back(late.id), late]))).toEqual(['taken', 'there']);
      expect(await conditions()).toEqual([]);
    });

    test('a loss brings back the pieces, and the lot to its slot', async () => {
      const lost = paling(hall.lots.A2.id, { state: 'lost', grade: null });
      await send([lost]);
      await send([back(lost.id)]);
      const lot = await bench.service.db.lot.findUniqueOrThrow({ where: { id: hall.lots.A2.id } });
      expect(lot.pieces).toBe(1);
      const rack = (await hand.get(`/rounds/${roundId}/racks/${hall.window}`)).body;
      expect(rack).toMatch(new RegExp(`A2, ${hall.lots.A2.code}`));
      const counted = entry('count', { lotId: hall.lots.A1.id, pieces: 9 });
      await send([counted, back(counted.id)]);
      const again = await bench.service.db.lot.findUniqueOrThrow({ where: { id: hall.lots.A1.id } });
      expect(again.pieces).toBe(5);
    });

    test('what was refused is closed by it; what cannot be undone from here, or is of another round, is refused in words', async () => {
      const wrong = paling(uuidv7());
      const fed = entry('feeding', { systemId: hall.systemId, food: 'Fine' });
      expect(outcomes(await send([wrong, back(wrong.id), fed, back(fed.id)]))).toEqual([
        'refused',
        'taken',
        'taken',
        'refused',
      ]);
      const elsewhere = await makeHall(bench);
      const other = await begin(bench, elsewhere, await planRound(bench, elsewhere), '2026-11-24');
      const answer = await hand.send(`/api/rounds/${other}/entries`, [back(fed.id)]);
      expect(outcomes(answer)).toEqual(['refused']);
    });
  });

  test('the pumps came on when it was tapped, though the network came back later', async () => {
    const fed = entry('feeding', { systemId: hall.systemId, food: 'Fine', pumpsOffMin: 20 });
    bench.at('2026-11-24T08:20:00Z');
    await send([fed, { ...entry('pumps_on', { feedingId: fed.id }), at: '2026-11-24T08:18:00Z' }]);
    const [feeding] = await fedHere();
    const off = await bench.service.db.switchedOff.findUniqueOrThrow({
      where: { feedingId: feeding?.id ?? '' },
    });
    expect(off.seenRunningAt).toEqual(new Date('2026-11-24T08:18:00Z'));
  });

  test('a rack that is not on the way is refused', async () => {
    const elsewhere = await makeHall(bench);
    expect(outcomes(await send([well(elsewhere.window)]))).toEqual(['refused']);
  });
});

test('a rack shows the same last look as the lists of stock: the pass of a round counts', async () => {
  await send([well()]);
  const slots = await slotOccupancy(bench.service.pool, [hall.window], new Date(at));
  const looks = slots.flatMap(({ lot }) => (lot === null ? [] : [lot.look]));
  expect(looks).toEqual([1, 2].map(() => ({ state: 'well', grade: null, at: new Date(at) })));
});

describe('a lot whose own note was not taken', () => {
  const lookOf = async (lotId: string) =>
    (await bench.service.pool.query('SELECT state FROM lot_look WHERE lot_id = $1', [lotId])).rows;
  const lost = (more: object = {}) =>
    paling(hall.lots.A1.id, { state: 'lost', grade: null, pieces: '2,5', ...more });
  const reasons = async () => {
    const ask = { siteId: hall.siteId, timeZone: 'Europe/Lisbon', lotIds: [hall.lots.A1.id] };
    const [lot] = await lotReadiness(bench.service.pool, ask, new Date(at));
    return (lot?.reasons ?? []).map(({ text }) => text);
  };

  test.each([
    ['before', () => [lost(), well()]],
    ['after', () => [well(), lost()]],
  ])('is not among the others that are well, the note sent %s', async (_, list) => {
    expect(outcomes(await send(list())).sort()).toEqual(['refused', 'taken']);
    expect(await lookOf(hall.lots.A1.id)).toEqual([]);
    expect(await lookOf(hall.lots.A2.id)).toEqual([{ state: 'well' }]);
  });

  test('is not sold until the note is put right, and then looks as that says', async () => {
    const wrong = lost();
    await send([wrong, well()]);
    expect(await reasons()).toContain('A note of it was not taken: put it right on its round first.');
    expect(outcomes(await send([lost({ pieces: 2, mends: wrong.id })]))).toEqual(['taken']);
    expect(await reasons()).not.toContain('A note of it was not taken: put it right on its round first.');
    expect(await lookOf(hall.lots.A1.id)).toEqual([{ state: 'lost' }]);
  });

  test('a count that was put right leaves the lot among those that were well', async () => {
    const wrong = entry('count', { lotId: hall.lots.A1.id, rackId: hall.window, pieces: '2,5' });
    await send([wrong, well()]);
    expect(await lookOf(hall.lots.A1.id)).toEqual([]);
    await send([{ ...wrong, id: uuidv7(), pieces: 4, mends: wrong.id }]);
    expect(await lookOf(hall.lots.A1.id)).toEqual([{ state: 'well' }]);
  });

  test('is left out by the tap for the rack where only the tablet holds the note', async () => {
    await send([{ ...well(), unsaid: hall.lots.A1.id }]);
    expect(await lookOf(hall.lots.A1.id)).toEqual([]);
    expect(await lookOf(hall.lots.A2.id)).toEqual([{ state: 'well' }]);
  });
});

describe('times', () => {
  test('a tablet whose clock runs three hours ahead is put right, and the round says so', async () => {
    bench.at('2026-11-24T08:10:00Z');
    await send([{ ...paling(), at: '2026-11-24T11:05:00Z' }], hand, {
      'device-time': '2026-11-24T11:10:00Z',
    });
    expect(await conditions()).toMatchObject([{ at: new Date('2026-11-24T08:05:00Z') }]);
    expect((await hand.get(`/rounds/${roundId}/end`)).body).toContain('clock was 3 h ahead');
  });

  test('a time in the future is not believed', async () => {
    await send([{ ...paling(), at: '2027-01-01T00:00:00Z' }]);
    expect(await conditions()).toMatchObject([{ at: new Date(at) }]);
  });
});

test('somebody signed out gets a plain 401 and loses nothing', async () => {
  const stranger = browse(bench.app);
  await stranger.get('/sign-in');
  expect((await send([paling()], stranger)).status).toBe(401);
  expect(await kept()).toHaveLength(0);
});

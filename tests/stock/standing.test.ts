import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { lotSeverities, readLotAlerts } from '../../src/alerts/lot-alerts.ts';
import { readerOf } from '../../src/platform/database/sql-reader.ts';
import { connect } from '../../src/platform/database.ts';
import { noteCondition } from '../../src/stock/lots/conditions.ts';
import { countLot } from '../../src/stock/lots/ledger.ts';
import { moveLot } from '../../src/stock/places/placements.ts';
import { cellQuery, rackQuery, readStanding, standingIn } from '../../src/stock/places/standing.ts';
import type { StockLot } from '../../src/stock/sales/ready.rules.ts';
import { looseQuery, readStockLots, standingQuery, stockLots } from '../../src/stock/sales/stock-lots.ts';
import { type Ground, layGround, layRack, lot, place, survey, turn } from '../farm/ground.ts';
import { type Bench, benchNow, benchOn, startBench } from '../support/service.ts';

// Written by another instance, on connections of its own; asked for of the first one, which is told of it by marks alone.

let bench: Bench;
let elsewhere: Bench;
let ground: Ground;
let beside: Ground;
let lotId: string;
let surveyId: string;
beforeAll(async () => {
  bench = await startBench({ watching: false, working: false });
  elsewhere = await benchOn(connect(bench.service.pool.options.connectionString ?? '', 3), {
    ...{ care: false, watching: false, working: false },
  });
  ground = await layGround(bench);
  beside = await layGround(bench);
  lotId = await lot(bench, ground.siteId);
  await place(bench, lotId, [ground.slots.A2], '2026-02-01T00:00:00Z');
  await turn(bench, ground.lampId, '2026-01-01T00:00:00Z', 50);
  surveyId = await survey(bench, ground, '2026-01-02T00:00:00Z', 50, { A1: 60 });
});
afterAll(async () => {
  await elsewhere.close();
  await bench.close();
});

const systems = () => [ground.systemId, beside.systemId];
const kept = () => standingIn(bench.service.pool, systems());
const anew = () => readStanding(bench.service.pool, systems());

const moves = (slotIds: string[], id = lotId) =>
  elsewhere.change((work) =>
    moveLot(work, { lotId: id, slotIds, at: elsewhere.service.now(), reason: 'to see it move' }),
  );
const sql = (text: string, ...values: unknown[]) => elsewhere.service.pool.query(text, values);
const slot = (name: string, of = ground) => of.slots[name] as string;
const look = { state: 'paling', grade: null, note: '' } as const;

/** The tables that the plans of queries read, each of which is asked for some ids. */
async function restsOn(...queries: string[]): Promise<string[]> {
  const tables = new Set<string>();
  for (const query of queries) {
    const { rows } = await bench.service.pool.query(`EXPLAIN (FORMAT JSON) ${query}`, [[ground.systemId]]);
    for (const [, name] of JSON.stringify(rows).matchAll(/"Relation Name":"(\w+)"/g))
      tables.add(name as string);
  }
  return [...tables].sort();
}

/** What is written, of which tables. */
const writes: [tables: string[], what: string, write: () => Promise<unknown>][] = [
  [
    ['system'],
    'a system renamed',
    () => sql(`UPDATE system SET name = 'Deep' WHERE id = $1`, ground.systemId),
  ],
  [['tank'], 'a tank renamed', () => sql(`UPDATE tank SET name = 'Long' WHERE id = $1`, ground.tankId)],
  [['rack'], 'a rack made wider', () => sql('UPDATE rack SET columns = 4 WHERE id = $1', ground.rackId)],
  [
    ['slot'],
    'a slot more',
    () =>
      sql(
        'INSERT INTO slot (id, rack_id, row, "column") VALUES (gen_random_uuid(), $1, 1, 4)',
        ground.rackId,
      ),
  ],
  [['lamp'], 'lamps renamed', () => sql(`UPDATE lamp SET name = 'Row 1' WHERE id = $1`, ground.lampId)],
  [['lamp_setting'], 'lamps turned up', () => turn(elsewhere, ground.lampId, '2026-03-01T00:00:00Z', 80)],
  [
    ['slot_light'],
    'the light of one more slot',
    () => sql('INSERT INTO slot_light VALUES ($1, $2, 70, 7, true)', surveyId, slot('A2')),
  ],
  [
    ['light_survey', 'slot_light'],
    'a survey',
    () => survey(elsewhere, ground, '2026-04-01T00:00:00Z', 80, { A1: 90, A2: 91 }),
  ],
  [
    ['rack_stand'],
    'a rack that stood deeper',
    () =>
      sql(
        `INSERT INTO rack_stand (id, rack_id, at, tank_id, lamp_id, depth_mm) VALUES (gen_random_uuid(), $1, '2026-01-01', $2, $3, 500)`,
        ...[ground.rackId, ground.tankId, ground.lampId],
      ),
  ],
  [['placement', 'placement_slot'], 'a lot moved within its rack', () => moves([slot('A1')])],
  [['placement', 'placement_slot'], 'a lot moved to another system', () => moves([slot('B1', beside)])],
  [['placement', 'placement_slot'], 'and back, into two slots', () => moves([slot('B1'), slot('B2')])],
  [
    ['lot'],
    'pieces counted',
    () =>
      elsewhere.change((work) =>
        countLot(work, { lotId, reason: 'received', pieces: 5, note: '', at: elsewhere.service.now() }),
      ),
  ],
  [['placement', 'placement_slot'], 'a lot taken out', () => moves([])],
];

describe('what stands in a system, kept', () => {
  beforeEach(() => {
    // Each move is after the one before.
    elsewhere.at(new Date(elsewhere.service.now().getTime() + 60_000));
  });

  test.each(writes)('is never older than what is in the database (%j: %s)', async (_tables, _what, write) => {
    const before = await kept();
    expect(before).toEqual(await anew());
    await write();
    const after = await kept();
    expect(after).toEqual(await anew());
    expect(after).not.toEqual(before);
  });

  test('was tried with every table that it rests on', async () => {
    const tables = await restsOn(rackQuery, cellQuery);
    expect(tables).toEqual([...new Set(writes.flatMap(([of]) => of))].sort());
  });

  test('is read again of the system that changed alone', async () => {
    const before = await kept();
    await moves([slot('B1', beside)]);
    const after = await kept();
    expect(after.get(beside.systemId)).not.toBe(before.get(beside.systemId));
    const later = await kept();
    expect(later.get(ground.systemId)).toBe(after.get(ground.systemId));
    expect(later.get(beside.systemId)).toBe(after.get(beside.systemId));
    const third = await layGround(bench);
    await kept();
    const other = await lot(bench, third.siteId);
    const settled = await kept();
    await moves([slot('A1', third)], other);
    expect((await kept()).get(ground.systemId)).toBe(settled.get(ground.systemId));
  });

  test('is not what a change sees that moved a lot itself', async () => {
    const lotsOn = (racks: Awaited<ReturnType<typeof kept>>) =>
      [...racks.values()].flat().flatMap(({ lots }) => lots.map(({ id }) => id));
    await moves([slot('B1')]);
    await bench.change(async (work) => {
      await moveLot(work, { lotId, slotIds: [], at: elsewhere.service.now(), reason: 'out' });
      expect(lotsOn(await standingIn(readerOf(work.tx), systems()))).toEqual([]);
    });
    expect(lotsOn(await kept())).toEqual([]);
  });
});

describe('the lots that may be sold, kept', () => {
  const siteId = () => ground.siteId;
  const kept = async () => byId(await stockLots(bench.service.pool, siteId()));
  const anew = async () => byId(await readStockLots(bench.service.pool, [ground.systemId], siteId()));
  const byId = (lots: readonly (readonly StockLot[])[]) => lots.flat().sort((a, b) => (a.id < b.id ? -1 : 1));
  const mine = async () => (await kept()).find(({ id }) => id === soldId);
  let soldId = '';

  const sales: [tables: string[], what: string, write: () => Promise<unknown>][] = [
    [
      ['lot'],
      'a lot that stands nowhere yet',
      async () => {
        soldId = await lot(elsewhere, siteId());
      },
    ],
    [['lot'], 'its size', () => sql('UPDATE lot SET size_mm = 40 WHERE id = $1', soldId)],
    [['placement', 'placement_slot'], 'its first place', () => moves([slot('A1')], soldId)],
    [['placement', 'placement_slot'], 'a move', () => moves([slot('B1')], soldId)],
    [
      ['condition'],
      'a look',
      () =>
        elsewhere.change((work) =>
          noteCondition(work, { ...look, lotId: soldId, at: elsewhere.service.now() }),
        ),
    ],
    [
      ['system'],
      'a system of another site',
      () => sql('UPDATE system SET site_id = $1 WHERE id = $2', beside.siteId, ground.systemId),
    ],
    [
      ['system'],
      'and of this one again',
      () => sql('UPDATE system SET site_id = $1 WHERE id = $2', ground.siteId, ground.systemId),
    ],
    [['kind'], 'a kind renamed', () => sql(`UPDATE kind SET name = name || ' *'`)],
    [
      ['care_figure'],
      'the size from which it is sold',
      () =>
        sql(
          `INSERT INTO care_figure (id, lot_id, figure, high, words, basis, source) VALUES (gen_random_uuid(), $1, 'sale_size_mm', 30, 'x', 'own_choice', 'x')`,
          soldId,
        ),
    ],
    [
      ['cut'],
      'what it was cut from',
      () =>
        sql(
          'INSERT INTO cut (id, from_lot_id, into_lot_id, at, pieces) VALUES (gen_random_uuid(), $1, $2, $3, 1)',
          ...[lotId, soldId, benchNow],
        ),
    ],
    [
      ['acclimation_lot'],
      'that it is acclimated',
      async () => {
        const { rows } = await sql(
          `INSERT INTO acclimation (id, site_id, name, purpose, received, from_dli, target_dli, max_step_ratio, dwell_days, starts_on)
           VALUES (gen_random_uuid(), $1, 'Brighter', 'brighter', 'stated', 5, 10, 1.2, 3, '2026-11-24') RETURNING id`,
          siteId(),
        );
        await sql('INSERT INTO acclimation_lot (acclimation_id, lot_id) VALUES ($1, $2)', rows[0].id, soldId);
      },
    ],
    [
      ['slot', 'rack'],
      'its slot given to another rack',
      async () => {
        const { rackId } = await layRack(
          elsewhere,
          { tankId: ground.tankId, lampId: null },
          { name: 'Back rack' },
        );
        await sql('UPDATE slot SET rack_id = $1, "column" = 9 WHERE id = $2', rackId, slot('B1'));
      },
    ],
    [
      ['tank', 'rack'],
      'its rack put into another site’s tank',
      () => sql(`UPDATE rack SET tank_id = $1 WHERE name = 'Back rack'`, beside.tankId),
    ],
    [
      ['tank', 'rack'],
      'and back',
      () => sql(`UPDATE rack SET tank_id = $1 WHERE name = 'Back rack'`, ground.tankId),
    ],
    [['placement', 'placement_slot'], 'that it was taken out', () => moves([], soldId)],
    [['lot'], 'that it is a mother', () => sql('UPDATE lot SET is_mother = true WHERE id = $1', soldId)],
  ];

  beforeEach(() => {
    elsewhere.at(new Date(elsewhere.service.now().getTime() + 60_000));
  });

  test.each(sales)('are never older than what is in the database (%j: %s)', async (_tables, _what, write) => {
    const before = await kept();
    expect(before).toEqual(await anew());
    await write();
    const after = await kept();
    expect(after).toEqual(await anew());
    expect(after).not.toEqual(before);
  });

  test('were tried with every table that they rest on', async () => {
    const tables = await restsOn(standingQuery, looseQuery);
    expect(tables).toEqual([...new Set(sales.flatMap(([of]) => of))].sort());
    expect(await mine()).toMatchObject({ isMother: true, acclimating: true, leastMm: 30, rackIds: [] });
  });
});

describe('the lots that open alerts tell of, kept', () => {
  const until = new Date(benchNow.getTime() + 3_600_000);
  let id: string;
  const severities = async (now = benchNow) => {
    const told = await lotSeverities(bench.service.pool, now);
    const read = await readLotAlerts(bench.service.pool, systems());
    const open = [...read.values()]
      .flat()
      .filter((one) => one.putOffUntil === null || one.putOffUntil <= now);
    expect(new Set(told.keys())).toEqual(new Set(open.flatMap(({ lots }) => lots)));
    return told.get(lotId) ?? null;
  };
  const setting = (what: string, ...values: unknown[]) =>
    sql(`UPDATE alert SET ${what} WHERE id = $1`, id, ...values);

  test('say at once how urgent it is: opened, worse, put off, back, moved on, cleared, and as another opens', async () => {
    expect(await severities()).toBeNull();
    const { db } = elsewhere.service;
    const about = { rule: 'paling', subjectType: 'lot', subjectId: lotId, systemId: ground.systemId };
    const alert = { title: 'Pales', finding: {}, worst: 1, openedAt: benchNow, evaluatedAt: benchNow };
    id = (await db.alert.create({ data: { ...about, ...alert, severity: 'watch' } })).id;
    expect(await severities()).toBe('watch');
    await setting(`severity = 'today'`);
    expect(await severities()).toBe('today');
    await setting(`put_off_until = $2, put_off_reason = 'Moved', put_off_worst = 1`, until);
    expect(await severities()).toBeNull();
    expect(await severities(until)).toBe('today');
    await setting('put_off_until = NULL, put_off_reason = NULL, put_off_worst = NULL');
    expect(await severities()).toBe('today');
    await setting('system_id = $2', beside.systemId);
    expect(await severities()).toBe('today');
    const rack = { ...about, subjectType: 'rack', subjectId: ground.rackId, severity: 'now' as const };
    const told = await db.alert.create({ data: { ...rack, ...alert, finding: { lots: [lotId] } } });
    expect(await severities()).toBe('now');
    await db.alert.update({ where: { id: told.id }, data: { finding: { lots: [] } } });
    expect(await severities()).toBe('today');
    await setting('cleared_at = $2', benchNow);
    expect(await severities()).toBeNull();
  });

  test('leave no mark where a judgement finds the same', async () => {
    const marks = async () =>
      (await sql(`SELECT count(*)::int AS n FROM fact_mark WHERE part = 'alert'`)).rows[0].n;
    const before = await marks();
    await setting(`evaluated_at = evaluated_at + interval '1 hour', finding = '{"why": "as before"}'`);
    expect(await marks()).toBe(before);
    await setting('cleared_at = NULL');
    expect(await marks()).toBe(before + 1);
  });
});

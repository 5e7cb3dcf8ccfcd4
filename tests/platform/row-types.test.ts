import type pg from 'pg';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openAlerts } from '../../src/alerts/alerts.ts';
import { rackLight } from '../../src/racks/rack-page/light.ts';
import { rackLots } from '../../src/rounds/round/rack-lots.ts';
import { savedEntries } from '../../src/rounds/round/saved-entries.ts';
import { findLots } from '../../src/stock/lots/search.ts';
import { slotOccupancy } from '../../src/stock/places/occupancy.ts';
import { lotReadiness } from '../../src/stock/sales/readiness.ts';
import { loadKits } from '../../src/watch/facts/kits.ts';
import { loadLots } from '../../src/watch/facts/lots.ts';
import { listKits } from '../../src/water/kits/kits.ts';
import { latestReadings, readingSeries } from '../../src/water/readings/series.ts';
import { type DemoBench, demoNow, startDemoBench } from '../support/demo-bench.ts';
import { closest, interfaceIn, partings, recording } from '../support/row-type.ts';

let bench: DemoBench;
let ids: { systems: string[]; racks: string[]; round: string };
beforeAll(async () => {
  bench = await startDemoBench({ watching: false });
  const { db } = bench.service;
  const idsOf = (rows: { id: string }[]) => rows.map(({ id }) => id);
  ids = {
    systems: idsOf(await db.system.findMany()),
    racks: idsOf(await db.rack.findMany()),
    round: (await db.roundEntry.findFirstOrThrow()).roundId,
  };
});
afterAll(() => bench.close());

const from = new Date('2026-08-01T00:00:00Z');
const span = { from, now: demoNow };

/** The widest rows that queries give, each with a function that asks for them. */
const widest: [file: string, row: string, ask: (pool: pg.Pool) => Promise<unknown>][] = [
  ['src/alerts/alerts.ts', 'Alert', (pool) => openAlerts(pool)],
  ['src/watch/facts/lots.ts', 'LotRow', (pool) => loadLots(pool, ids.systems, span)],
  ['src/rounds/round/saved-entries.ts', 'SavedEntry', (pool) => savedEntries(pool, ids.round)],
  [
    'src/stock/lots/search.ts',
    'DetailRow',
    (pool) => findLots(pool, { siteId: bench.siteId, perPage: 500 }, demoNow),
  ],
  ['src/stock/places/occupancy.ts', 'Row', (pool) => slotOccupancy(pool, ids.racks, demoNow)],
  [
    'src/water/readings/series.ts',
    'SeriesReading',
    (pool) =>
      readingSeries(pool, {
        systemId: ids.systems[0] ?? '',
        quantityCode: 'alkalinity',
        from,
        to: demoNow,
        withVoided: true,
      }).next(),
  ],
  ['src/water/readings/series.ts', 'LatestReading', (pool) => latestReadings(pool, ids.systems)],
  ['src/watch/facts/kits.ts', 'KitRow', (pool) => loadKits(pool, span)],
  ['src/water/kits/kits.ts', 'KitRow', (pool) => listKits(pool)],
  [
    'src/rounds/round/rack-lots.ts',
    'LotRecord',
    (pool) => rackLots(pool, ids.racks, { startedAt: demoNow }, demoNow),
  ],
  ['src/racks/rack-page/light.ts', 'RackLight', (pool) => rackLight(pool, ids.racks[0] ?? '')],
  [
    'src/stock/sales/readiness.ts',
    'Row',
    (pool) => lotReadiness(pool, { siteId: bench.siteId, timeZone: 'Europe/Lisbon' }, demoNow),
  ],
];

describe('the rows of a query are what their interface says', () => {
  test.each(widest)('%s: %s', async (file, row, ask) => {
    const declared = interfaceIn(file, row);
    const { pool, results } = recording(bench.service.pool);
    await ask(pool);
    const result = closest(results, declared);
    expect(result.rows.length).toBeGreaterThan(0);
    expect(await partings(bench.service.pool, declared, result)).toEqual([]);
  });
});

test('a renamed column, another type and a null that nobody declared are found', async () => {
  const { pool, results } = recording(bench.service.pool);
  await pool.query(
    'SELECT lot.id, kind.name AS heading, arrived_at::text AS at, size_mm AS "sizeMm" FROM lot, kind LIMIT 1',
  );
  const declared = [
    { name: 'id', kinds: new Set(['string']), nullable: false },
    { name: 'name', kinds: new Set(['string']), nullable: false },
    { name: 'at', kinds: new Set(['Date']), nullable: false },
    { name: 'sizeMm', kinds: new Set(['number']), nullable: false },
  ];
  expect(await partings(bench.service.pool, declared, closest(results, declared))).toEqual([
    'name is declared, and the query does not give it',
    'at comes as text',
    'sizeMm can be null',
    'heading comes, and is not declared',
  ]);
});

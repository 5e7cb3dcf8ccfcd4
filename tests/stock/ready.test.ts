import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { daysAfter } from '../../src/science/numeric/time.ts';
import { isReady, lotReadiness } from '../../src/stock/sales/readiness.ts';
import { readyLots, readyPage } from '../../src/stock/sales/ready.ts';
import { fillFarm } from '../bench/farm/fill.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';

let bench: Bench;
let siteId: string;

/** $1: now. Everything that can speak against selling, spread over lots by chance with a seed. */
const varied = [
  'SELECT setseed(0.41)',
  `UPDATE lot SET size_mm = CASE WHEN random() < 0.9 THEN 12 + (random() * 40)::int END, is_mother = random() < 0.05,
          pieces = CASE WHEN random() < 0.05 THEN 0 ELSE pieces END,
          arrived_at = $1::timestamptz - random() * interval '100 days',
          quarantine_until = CASE WHEN random() < 0.1 THEN $1::timestamptz + (random() - 0.5) * interval '10 days' END`,
  `UPDATE condition SET at = CASE WHEN random() < 0.1 THEN at ELSE $1::timestamptz - random() * interval '16 days' END,
          state = CASE WHEN random() < 0.9 THEN 'well' ELSE 'paling' END::"ConditionState", grade = NULL`,
  `UPDATE condition SET voided_at = $1::timestamptz, void_reason = 'x' WHERE random() < 0.2`,
  `DELETE FROM condition WHERE lot_id IN (SELECT id FROM lot WHERE random() < 0.15)`,
  // The lots of each system moved on by a slot at one time, from 65 hours before now on.
  `CREATE TEMPORARY TABLE moved ON COMMIT DROP AS
   SELECT placement.id, placement.to_at IS NULL AS stands, $1::timestamptz - right(system.name, 1)::int * interval '65 hours' AS at
     FROM placement JOIN placement_slot ON placement_id = placement.id JOIN slot ON slot.id = slot_id JOIN rack ON rack.id = rack_id
     JOIN tank ON tank.id = tank_id JOIN system ON system.id = system_id`,
  'UPDATE placement_slot SET from_at = moved.at FROM moved WHERE placement_id = moved.id AND stands',
  'UPDATE placement SET from_at = moved.at FROM moved WHERE placement.id = moved.id AND stands',
  'UPDATE placement_slot SET to_at = moved.at FROM moved WHERE placement_id = moved.id AND NOT stands',
  'UPDATE placement SET to_at = moved.at FROM moved WHERE placement.id = moved.id AND NOT stands',
  `DELETE FROM placement_slot WHERE placement_id IN (SELECT id FROM placement WHERE to_at IS NULL AND random() < 0.05)`,
  `INSERT INTO hold (id, lot_id, pieces, buyer, until, released_at, release_reason)
   SELECT gen_random_uuid(), id, 1 + (random() * 3)::int, 'B', $1::date + 3, CASE WHEN over THEN $1::timestamptz END, CASE WHEN over THEN 'x' END
     FROM lot, LATERAL (SELECT random() < 0.3 AS over) AS once WHERE random() < 0.2`,
  `INSERT INTO cut (id, from_lot_id, into_lot_id, at, pieces)
   SELECT gen_random_uuid(), (SELECT max(id::text)::uuid FROM lot), id, $1::timestamptz - random() * interval '60 days', 1
     FROM lot WHERE random() < 0.3 AND id <> (SELECT max(id::text)::uuid FROM lot)`,
  `INSERT INTO care_figure (id, lot_id, figure, low, high, words, basis, source)
   SELECT gen_random_uuid(), id, figure, NULL, CASE WHEN random() < 0.8 THEN (random() * 40)::int END, 'x', 'own_choice', 'x'
     FROM lot, unnest('{sale_size_mm,heal_days,quarantine_days}'::text[]) AS figure WHERE random() < 0.15`,
  `UPDATE tank SET quarantine = name = 'Tank 3', own_water = CASE WHEN name = 'Tank 2' THEN 'jar' ELSE '' END`,
  `INSERT INTO round_entry (id, round_id, kind, rack_id, detail, at)
   SELECT gen_random_uuid(), gen_random_uuid(), 'rack_well', id, '{}', $1::timestamptz - random() * interval '18 days'
     FROM rack, generate_series(1, 3) WHERE random() < 0.6`,
  `INSERT INTO alert (id, rule, subject_type, subject_id, system_id, severity, title, finding, worst, opened_at, evaluated_at)
   SELECT gen_random_uuid(), 'x', 'lot', id, (SELECT min(id::text)::uuid FROM system), 'watch', 'x', '{}', 1, $1, $1 FROM lot WHERE random() < 0.1`,
  // Of the six systems one is in trouble by an urgent alert, one by its band; the others have alerts that keep nothing back.
  `INSERT INTO alert (id, rule, subject_type, subject_id, system_id, severity, title, finding, worst, opened_at, evaluated_at, put_off_until, put_off_reason, put_off_worst)
   SELECT gen_random_uuid(), rule, 'system', id, id, severity::"Severity", 'x', '{}', 1, $1, $1, CASE WHEN off THEN $1::timestamptz + interval '1 day' END, CASE WHEN off THEN 'x' END, CASE WHEN off THEN 1 END
     FROM (SELECT id, row_number() OVER (ORDER BY name) AS n FROM system) AS one
     JOIN (VALUES (1, 'ammonia', 'now', false), (2, 'out-of-band', 'today', false), (3, 'out-of-band', 'today', true),
                  (4, 'alkalinity-falling', 'today', false), (5, 'look-overdue', 'now', false)) AS told(n, rule, severity, off) USING (n)`,
];

beforeAll(async () => {
  bench = await startBench({ watching: false });
  const { pool, db } = bench.service;
  await fillFarm(pool, { systems: 6, lots: 600, years: 0.01 }, benchNow);
  const client = await pool.connect();
  try {
    await client.query('BEGIN');
    await client.query('SET LOCAL session_replication_role = replica');
    for (const text of varied) await client.query(text, text.includes('$1') ? [benchNow] : []);
    await client.query('COMMIT');
  } finally {
    client.release();
  }
  siteId = (await db.site.findFirstOrThrow()).id;
});
afterAll(() => bench.close());

describe('the lots that are ready to sell', () => {
  test.each([0, 1, 3, 7.5, 40])(
    'are those of which no reason speaks against it, counted and listed alike (%d days on)',
    async (days) => {
      const [now, { pool }] = [daysAfter(benchNow, days), bench.service];
      const told = await lotReadiness(pool, { siteId, timeZone: 'UTC' }, now);
      const ready = told.filter(isReady);
      const listed = await readyLots(pool, siteId, now);
      expect(listed.map(({ code }) => code)).toEqual(ready.map(({ code }) => code));
      const others = told.filter((lot) => !isReady(lot)).map(({ id }) => id);
      const perPage = others.length;
      const page = await readyPage(pool, siteId, { ready: false, page: 1, perPage }, now);
      expect(page.ids).toEqual(others);
      expect(page.sum).toEqual({
        inStock: told.length,
        lots: ready.length,
        pieces: ready.reduce((sum, lot) => sum + lot.pieces - lot.held, 0),
      });
      if (days <= 3) expect(ready.length).toBeGreaterThan(10);
    },
  );
});

import { isDeepStrictEqual } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { judge } from '../../src/watch/evaluation/evaluate.ts';
import { currentFacts, loadFacts, type SystemFacts } from '../../src/watch/facts/facts.ts';
import { loadSettings } from '../../src/watch/settings/settings.ts';
import { fillFarm } from '../bench/farm/fill.ts';
import { type Bench, benchNow, startBench } from '../support/service.ts';

let bench: Bench;

/** Three systems that share their kits, two months of tests, ten lots each; one lot was cut from a mother elsewhere. */
beforeAll(async () => {
  bench = await startBench({ watching: false });
  await fillFarm(bench.service.pool, { systems: 3, lots: 30, years: 0.2 }, benchNow);
  await run(`UPDATE lot SET parent_id = ${key(8, 1)} WHERE id = ${key(8, 11)}`);
  await run(`INSERT INTO cut (id, from_lot_id, into_lot_id, at, pieces, method)
    VALUES (gen_random_uuid(), ${key(8, 1)}, ${key(8, 11)}, ${ago(100)}, 1, 'saw')`);
});
afterAll(() => bench.close());

const run = (sql: string) => bench.service.pool.query(sql);

/** The keys the farm is filled with: 2 systems, 3 tanks, 4 lamps, 5 racks, 6 slots, 7 surveys, 8 lots, 9 placements, 10 looks. */
const key = (what: number, n: number) =>
  `'${what.toString(16).padStart(8, '0')}-0000-7000-8000-${n.toString(16).padStart(12, '0')}'::uuid`;
const [first, second] = [key(2, 1), key(2, 2)];
const ago = (days: number) =>
  `'${new Date(benchNow.getTime() - days * 86_400_000).toISOString()}'::timestamptz`;

async function cachedFacts(now = benchNow, ids: string[] | null = null): Promise<SystemFacts[]> {
  const facts: SystemFacts[] = [];
  for await (const some of currentFacts(bench.service.pool, ids, now)) facts.push(...some);
  return facts;
}

/** The parts in which the facts of systems differ. */
function differing(some: readonly SystemFacts[], others: readonly SystemFacts[]): string[] {
  if (some.length !== others.length) return ['systems'];
  const names = Object.keys(some[0] ?? {}) as (keyof SystemFacts)[];
  return names.filter((name) => some.some((one, i) => !isDeepStrictEqual(one[name], others[i]?.[name])));
}

const ofSystem = (facts: readonly SystemFacts[], key: string) =>
  facts.find(({ systemId }) => key.includes(systemId)) as SystemFacts;

/** A reading like the last of its quantity, some days earlier. */
const lateReading = (system: string, code: string, days: number, more: Record<string, string> = {}) => {
  const columns = {
    id: 'gen_random_uuid()',
    at: `at - interval '${days} days' + interval '1 hour'`,
    value: 'value * 1.02',
    ...more,
  };
  const others = [
    'system_id',
    'quantity_code',
    'method_id',
    'kit_id',
    'uncertainty',
    'entered_text',
    'entered_unit',
    'created_at',
  ];
  const kept = others.filter((name) => !(name in more));
  return `INSERT INTO reading (${[...Object.keys(columns), ...kept].join()}) SELECT ${[...Object.values(columns), ...kept].join()}
            FROM reading WHERE system_id = ${system} AND quantity_code = '${code}' ORDER BY at DESC, id LIMIT 1`;
};
const aReading = (system: string, code: string, back: number) =>
  `(SELECT id FROM reading WHERE system_id = ${system} AND quantity_code = '${code}' ORDER BY at DESC OFFSET ${back} LIMIT 1)`;
const kitOf = (code: string) => `(SELECT kit_id FROM reading WHERE id = ${aReading(first, code, 0)})`;

const theProbe = `(SELECT id FROM kit WHERE label = 'Probe 7')`;
const aProbeValue = (back: number) =>
  `(SELECT id FROM reading WHERE kit_id = ${theProbe} ORDER BY at DESC OFFSET ${back} LIMIT 1)`;
/** Values each ten minutes from so many days before now to so many. */
const probeReports = (system: string, from: number, to: number) => `
  WITH method AS (INSERT INTO method (id, quantity_code, name, absolute, every_minutes, is_probe)
    SELECT gen_random_uuid(), 'temperature', 'Probe', 0.05, 10, true WHERE NOT EXISTS (SELECT FROM kit WHERE label = 'Probe 7') RETURNING id),
  made AS (INSERT INTO kit (id, method_id, label, opened_at) SELECT gen_random_uuid(), id, 'Probe 7', ${ago(20)} FROM method RETURNING id, method_id),
  probe AS (SELECT id, method_id FROM made UNION ALL SELECT id, method_id FROM kit WHERE label = 'Probe 7')
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
  SELECT gen_random_uuid(), ${system}, 'temperature', probe.method_id, probe.id, at, 25 + 0.3 * sin(extract(epoch FROM at) / 13000), 0.05, '', ''
    FROM probe, generate_series(${ago(from)}, ${ago(to)} - interval '1 second', interval '10 minutes') AS at`;

const oneSite = '(SELECT site_id FROM system ORDER BY id LIMIT 1)';
const changes: [string, string][] = [
  [
    'a device that falls silent',
    `WITH topic AS (INSERT INTO mqtt_topic (id, site_id, filter, payload, silent_word) VALUES (gen_random_uuid(), ${oneSite}, 'hall/+/state', 'status', 'gone'))
     INSERT INTO mqtt_heard (site_id, topic, last_at, messages, silent_since) VALUES (${oneSite}, 'hall/ph/state', ${ago(1)}, 3, ${ago(1)})`,
  ],
  [
    'a probe of a silent device',
    `INSERT INTO probe_name (name, system_id, kit_id, created_at) VALUES ('hall/ph/value', ${second}, ${kitOf('calcium')}, ${ago(1)})`,
  ],
  ['a device that is heard again', `UPDATE mqtt_heard SET silent_since = NULL`],
  ['a probe that reports each ten minutes', probeReports(first, 12, 0.5)],
  ['later values of it', probeReports(first, 0.5, 0.01)],
  ['values of it that come late, into the middle', probeReports(first, 6.01, 5.99)],
  [
    'a value of it that was voided',
    `UPDATE reading SET voided_at = ${ago(0)}, void_reason = 'hand in the water' WHERE id = ${aProbeValue(300)}`,
  ],
  ['a value of it that was refuted', `UPDATE reading SET trust = 'refuted' WHERE id = ${aProbeValue(900)}`],
  ['the same probe in another system', probeReports(second, 0.009, 0)],
  [
    'all values of a day of it taken back',
    `UPDATE reading SET voided_at = ${ago(0)}, void_reason = 'out of the water' WHERE kit_id = ${theProbe} AND at > ${ago(4)} AND at < ${ago(2)}`,
  ],
  [
    'a check of that probe',
    `INSERT INTO check_reading (id, kit_id, at, standard_value, value) VALUES (gen_random_uuid(), ${theProbe}, ${ago(2)}, 25, 25.2)`,
  ],
  ['a late reading', lateReading(first, 'alkalinity', 20)],
  ['a reading of a system that shares the kit', lateReading(second, 'calcium', 3)],
  ['a reading below detection', lateReading(first, 'phosphate', 2, { below_detection: 'true' })],
  [
    'a reading of a quantity never read before',
    lateReading(first, 'alkalinity', 1, { quantity_code: `'iodine'`, method_id: 'NULL', kit_id: 'NULL' }),
  ],
  ['a temperature', lateReading(second, 'temperature', 9)],
  [
    'a voided reading',
    `UPDATE reading SET voided_at = ${ago(0)}, void_reason = 'spilt' WHERE id = ${aReading(first, 'nitrate', 4)}`,
  ],
  [
    'a corrected reading',
    `WITH old AS (UPDATE reading SET voided_at = ${ago(0)}, void_reason = 'misread' WHERE id = ${aReading(first, 'magnesium', 30)} RETURNING *)
     INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit, supersedes_id)
     SELECT gen_random_uuid(), system_id, quantity_code, method_id, kit_id, at, value + 9, uncertainty, '', '', id FROM old`,
  ],
  [
    'a refuted reading',
    `UPDATE reading SET trust = 'refuted' WHERE id = ${aReading(second, 'alkalinity', 50)}`,
  ],
  [
    'a reading in doubt',
    `UPDATE reading SET trust = 'unconfirmed' WHERE id = ${aReading(first, 'salinity', 0)}`,
  ],
  [
    'a water change',
    `UPDATE water_change SET volume_l = volume_l * 1.5 WHERE system_id = ${first} AND at > ${ago(30)}`,
  ],
  [
    'a voided dose',
    `UPDATE dose SET voided_at = ${ago(0)}, void_reason = 'twice' WHERE id = (SELECT id FROM dose WHERE system_id = ${first} ORDER BY at DESC OFFSET 3 LIMIT 1)`,
  ],
  [
    'pumps that went on',
    `UPDATE switched_off SET seen_running_at = off_at + interval '5 minutes' WHERE system_id = ${second}`,
  ],
  [
    'something switched off for now',
    `INSERT INTO switched_off (id, system_id, thing, what, why, off_at, due_at, late_at) VALUES (gen_random_uuid(), ${first}, 'heating', 'Heater', 'cleaning', ${ago(0.1)}, ${ago(0.05)}, ${ago(0.01)})`,
  ],
  [
    'a fault of a device',
    `WITH one AS (INSERT INTO equipment (id, system_id, kind, name) VALUES (gen_random_uuid(), ${first}, 'heater', 'Heater') RETURNING id)
     INSERT INTO fault (id, system_id, equipment_id, seen, noted_at) SELECT gen_random_uuid(), ${first}, id, 'cold', ${ago(0.1)} FROM one`,
  ],
  [
    'a water under watch for a pest',
    `INSERT INTO pest_watch (id, system_id, pest, opened_at) VALUES (gen_random_uuid(), ${first}, 'unnamed', ${ago(5)})`,
  ],
  [
    'a look for that pest',
    `INSERT INTO pest_look (id, watch_id, at, found) SELECT gen_random_uuid(), id, ${ago(1)}, 0 FROM pest_watch`,
  ],
  ['the device under another name', `UPDATE equipment SET name = 'Heater left' WHERE kind = 'heater'`],
  ['a fault that was mended', `UPDATE fault SET mended_at = ${ago(0.05)}, mended = 'put in another'`],
  [
    'a look that is asked for',
    `INSERT INTO look (id, system_id, key, title, href, due_at, created_at) VALUES (gen_random_uuid(), ${first}, 'test', 'Look again', '/', ${ago(0.01)}, ${ago(0.05)})`,
  ],
  ['a look that was taken', `UPDATE look SET done_at = ${ago(0.005)}`],
  [
    'an event that changes habits',
    `INSERT INTO system_event (id, system_id, kind, at) VALUES (gen_random_uuid(), ${second}, 'media_changed', ${ago(9)})`,
  ],
  [
    'a routine',
    `INSERT INTO routine (id, system_id, work, quantity_code, detail, every_days, starts_on, created_at) VALUES (gen_random_uuid(), ${first}, 'test', 'nitrate', '{}', 3, ${ago(50)}, ${ago(50)})`,
  ],
  ['a routine that ended', `UPDATE routine SET ended_at = ${ago(0.5)}`],
  [
    'a correction',
    `WITH one AS (INSERT INTO correction (id, system_id, quantity_code, substance, basis, reading_id, from_value, target_value, daily_cap, cap_source, volume_l, starts_on, created_at)
     VALUES (gen_random_uuid(), ${first}, 'calcium', 'calcium chloride', '{}', ${aReading(first, 'calcium', 0)}, 400, 430, 10, 'test', 2000, ${ago(1)}, ${ago(1)}) RETURNING id)
     INSERT INTO correction_step (id, correction_id, position, due_on, amount, unit, expected_after, retest) SELECT gen_random_uuid(), id, 1, ${ago(0)}, 20, 'g', 410, true FROM one`,
  ],
  [
    'a step of it that was done',
    `UPDATE correction_step SET done_at = ${ago(0.1)}, dose_id = (SELECT id FROM dose WHERE system_id = ${first} ORDER BY at DESC LIMIT 1)`,
  ],
  [
    'a water change that was a step of it',
    `INSERT INTO correction_step (id, correction_id, position, due_on, amount, unit, expected_after, retest, done_at, water_change_id)
     SELECT gen_random_uuid(), id, 2, ${ago(0)}, 200, 'L', 420, false, ${ago(0.1)},
            (SELECT id FROM water_change WHERE system_id = ${first} ORDER BY at DESC LIMIT 1) FROM correction LIMIT 1`,
  ],
  ['a band', `UPDATE system_quantity SET band_high = band_high * 1.05 WHERE system_id = ${second}`],
  ['a method', `UPDATE method SET step = 0.05 WHERE quantity_code = 'alkalinity'`],
  ['a kit put away', `UPDATE kit SET retired_at = ${ago(0.2)} WHERE id = ${kitOf('magnesium')}`],
  [
    'a check of a kit',
    `INSERT INTO check_reading (id, kit_id, at, standard_value, value) VALUES (gen_random_uuid(), ${kitOf('alkalinity')}, ${ago(2)}, 2.9, 3.1)`,
  ],
  [
    'a pair of kits',
    `WITH older AS (INSERT INTO kit (id, method_id, label, opened_at) SELECT gen_random_uuid(), method_id, 'older', ${ago(90)} FROM kit WHERE id = ${kitOf('calcium')} RETURNING id)
     INSERT INTO kit_pair (id, kit_id, old_kit_id, at, old_value, value) SELECT gen_random_uuid(), ${kitOf('calcium')}, id, ${ago(3)}, 420, 431 FROM older`,
  ],
  [
    'a look at a lot',
    `INSERT INTO condition (id, lot_id, at, state, grade) VALUES (gen_random_uuid(), ${key(8, 3)}, ${ago(0.3)}, 'paling', 2)`,
  ],
  [
    'a look taken back',
    `UPDATE condition SET voided_at = ${ago(0)}, void_reason = 'wrong lot' WHERE lot_id = ${key(8, 3)} AND at > ${ago(1)}`,
  ],
  [
    'a mother that stood elsewhere before the cut',
    `UPDATE placement_slot SET slot_id = ${key(6, 200)} WHERE placement_id = ${key(9, 3)}`,
  ],
  [
    'a lot that loses flesh',
    `INSERT INTO condition (id, lot_id, at, state) VALUES (gen_random_uuid(), ${key(8, 4)}, ${ago(0.5)}, 'receding')`,
  ],
  [
    'a lot that left',
    `UPDATE placement SET to_at = ${ago(0.4)} WHERE lot_id = ${key(8, 4)} AND to_at IS NULL`,
  ],
  [
    'a lot that came from another system',
    `WITH one AS (INSERT INTO placement (id, lot_id, from_at) VALUES (gen_random_uuid(), ${key(8, 4)}, ${ago(0.3)}) RETURNING id)
     INSERT INTO placement_slot (placement_id, slot_id) SELECT id, ${key(6, 500)} FROM one`,
  ],
  [
    'pieces lost before it left, noted afterwards',
    `INSERT INTO ledger_entry (id, lot_id, at, change, reason) VALUES (gen_random_uuid(), ${key(8, 4)}, ${ago(6)}, -1, 'lost')`,
  ],
  [
    'a look at it before it left, noted afterwards',
    `INSERT INTO condition (id, lot_id, at, state) VALUES (gen_random_uuid(), ${key(8, 4)}, ${ago(0.45)}, 'paling')`,
  ],
  [
    'pieces lost',
    `INSERT INTO ledger_entry (id, lot_id, at, change, reason) VALUES (gen_random_uuid(), ${key(8, 12)}, ${ago(1)}, -1, 'lost')`,
  ],
  [
    'pieces sold',
    `INSERT INTO ledger_entry (id, lot_id, at, change, reason) VALUES (gen_random_uuid(), ${key(8, 13)}, ${ago(2)}, -1, 'sold')`,
  ],
  [
    'two looks into the container of a doser',
    `WITH one AS (INSERT INTO equipment (id, system_id, kind, name, strength_code, strength) VALUES (gen_random_uuid(), ${first}, 'doser', 'Doser', 'alkalinity', 1000) RETURNING id)
     INSERT INTO container_level (id, equipment_id, at, seen_l, after_l) SELECT gen_random_uuid(), one.id, look.at, look.seen, 9
       FROM one CROSS JOIN (VALUES (${ago(9)}, NULL::float8), (${ago(1)}, 2)) AS look(at, seen)`,
  ],
  ['a cut', `UPDATE cut SET at = ${ago(200)}`],
  [
    'a photograph of a rack',
    `WITH one AS (INSERT INTO rack_photograph (id, rack_id, taken_at, sha256, width_mm, depth_mm, residual_mm, blur_mm, tilt_deg, straight_bytes)
       VALUES (gen_random_uuid(), ${key(5, 1)}, ${ago(3)}, 'a', 1, 1, 0, 0, 0, 0) RETURNING id)
     INSERT INTO rack_photograph_lot (id, photograph_id, lot_id, slots, whiteness, whiteness_error, green_red, blue_yellow, area_mm2, area_low_mm2, area_high_mm2, outline)
     SELECT gen_random_uuid(), id, ${key(8, 1)}, 'A1', 40, 0.5, 0, 0, 100, 90, 110, '[]' FROM one`,
  ],
  ['what it measured of another lot', `UPDATE rack_photograph_lot SET lot_id = ${key(8, 2)}`],
  [
    'a measure of it refused',
    `UPDATE rack_photograph_lot SET refused_at = ${ago(1)}, refuse_reason = 'outline'`,
  ],
  ['that measure counting again', `UPDATE rack_photograph_lot SET refused_at = NULL, refuse_reason = NULL`],
  [
    'that photograph taken back',
    `UPDATE rack_photograph SET voided_at = ${ago(0)}, void_reason = 'wrong rack'`,
  ],
  [
    'a lamp that was turned',
    `INSERT INTO lamp_setting (id, lamp_id, at, percent) VALUES (gen_random_uuid(), ${key(4, 1)}, ${ago(5)}, 90)`,
  ],
  ['a survey', `UPDATE slot_light SET par = par * 1.1 WHERE survey_id = ${key(7, 1)}`],
  ['a rack hung lower', `UPDATE rack SET depth_mm = 220 WHERE id = ${key(5, 1)}`],
  ['a stream at a slot', `UPDATE slot SET flow = 'high', jet = true WHERE rack_id = ${key(5, 1)}`],
  [
    'a figure of care of one lot',
    `INSERT INTO care_figure (id, lot_id, figure, high, basis, source) VALUES (gen_random_uuid(), ${key(8, 2)}, 'par_ceiling', 100, 'own_choice', 'test')`,
  ],
  [
    'an acclimation',
    `WITH one AS (INSERT INTO acclimation (id, site_id, name, purpose, received, from_dli, target_dli, max_step_ratio, dwell_days, starts_on, created_at)
     SELECT gen_random_uuid(), id, 'Up', 'brighter', 'stated', 4, 8, 1.3, 7, ${ago(3)}, ${ago(3)} FROM site RETURNING id),
     lots AS (INSERT INTO acclimation_lot (acclimation_id, lot_id) SELECT id, ${key(8, 5)} FROM one)
     INSERT INTO acclimation_step (id, acclimation_id, position, due_on, dli, lot_id) SELECT gen_random_uuid(), id, 1, ${ago(1)}, 5, ${key(8, 5)} FROM one`,
  ],
  ['a step of light that was taken', `UPDATE acclimation_step SET done_at = ${ago(0.2)}`],
  ['a new name', `UPDATE system SET name = 'Far water' WHERE id = ${second}`],
  ['a system no longer kept', `UPDATE system SET retired_at = ${ago(0)} WHERE id = ${key(2, 3)}`],
];

describe('facts that are kept', () => {
  test.each(changes)('follow %s', async (_, sql) => {
    const before = await cachedFacts();
    await run(sql);
    const [now, anew] = [await cachedFacts(), await loadFacts(bench.service.pool, null, benchNow)];
    expect(differing(now, anew)).toEqual([]);
    expect(differing(now, before)).not.toEqual([]);
  });

  test('of one system alone follow what comes of another later', async () => {
    await cachedFacts(benchNow, [first.slice(1, 37)]);
    await run(lateReading(second, 'alkalinity', 33));
    const { pool } = bench.service;
    const ofOne = await cachedFacts(benchNow, [first.slice(1, 37)]);
    expect(differing(ofOne, await loadFacts(pool, [first.slice(1, 37)], benchNow))).toEqual([]);
    expect(differing(await cachedFacts(), await loadFacts(pool, null, benchNow))).toEqual([]);
  });

  test('miss nothing of a change that began before they were read and ended after', async () => {
    const other = await bench.service.pool.connect();
    await other.query('BEGIN');
    await other.query(lateReading(first, 'nitrate', 12));
    await run(lateReading(first, 'alkalinity', 12));
    const meanwhile = await cachedFacts();
    await other.query('COMMIT');
    other.release();
    const facts = await cachedFacts();
    expect(differing(facts, await loadFacts(bench.service.pool, null, benchNow))).toEqual([]);
    expect(differing(facts, meanwhile)).toContain('readings');
  });

  test('tell of what is written down for later when its time has come, and of a new day', async () => {
    await run(lateReading(first, 'alkalinity', -0.1));
    const counts = [];
    for (const hours of [1, 4, 20, 2]) {
      const now = new Date(benchNow.getTime() + hours * 3_600_000);
      const facts = await cachedFacts(now);
      expect(differing(facts, await loadFacts(bench.service.pool, null, now))).toEqual([]);
      counts.push(ofSystem(facts, first).readings.get('alkalinity')?.length);
    }
    expect(counts[1]).toBe((counts[0] ?? 0) + 1);
  });

  test('are the same objects where nothing changed', async () => {
    const before = ofSystem(await cachedFacts(), first);
    await run(lateReading(first, 'alkalinity', 40));
    const after = ofSystem(await cachedFacts(), first);
    expect(after.readings.get('alkalinity')).not.toBe(before.readings.get('alkalinity'));
    expect(after.readings.get('nitrate')).toBe(before.readings.get('nitrate'));
    expect(after.lots).toBe(before.lots);
    const kitsOf = ({ kits, visitingKits }: SystemFacts, code: string) =>
      [...kits, ...visitingKits].find(({ quantityCode }) => quantityCode === code);
    expect(kitsOf(after, 'nitrate')).toBe(kitsOf(before, 'nitrate'));
    expect(kitsOf(after, 'alkalinity')).not.toBe(kitsOf(before, 'alkalinity'));
  });

  test('let the rules find what they find from facts read anew', async () => {
    const book = await loadSettings(bench.service.pool);
    const found = async (facts: readonly SystemFacts[], now: Date) =>
      Promise.all(facts.map((system) => judge(system, book, now)));
    for (const hours of [0, 1, 2]) {
      const now = new Date(benchNow.getTime() + hours * 3_600_000);
      await run(lateReading(first, hours === 1 ? 'calcium' : 'alkalinity', 5 + hours));
      const kept = await found(await cachedFacts(now), now);
      expect(kept).toEqual(await found(await loadFacts(bench.service.pool, null, now), now));
      expect(kept.flat().length).toBeGreaterThan(0);
    }
  });
});

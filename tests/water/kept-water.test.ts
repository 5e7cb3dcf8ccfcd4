import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { connect } from '../../src/platform/database.ts';
import { countsQuery, useCounts } from '../../src/water/kits/use-counts.ts';
import { readTraces, traceKey, tracesOf, tracesQuery } from '../../src/water/overview/kept-traces.ts';
import { letGo } from '../../src/water/probe-days/letting-go.ts';
import { packDays } from '../../src/water/probe-days/packing.ts';
import { rollUp } from '../../src/water/readings/rollups.ts';
import { type Bench, benchNow, benchOn, startBench } from '../support/service.ts';
import { makeSystem, read } from './farm.ts';

// Written by another instance, on connections of its own; asked for of the first one, which is told of it by marks alone.

const [minuteMs, dayMs] = [60_000, 86_400_000];
const span = { from: new Date(benchNow.getTime() - 60 * dayMs), to: benchNow };
const codes = ['alkalinity', 'temperature'];

let bench: Bench;
let elsewhere: Bench;
let systems: string[];
let kitId: string;
let probe: { kitId: string; methodId: string };
beforeAll(async () => {
  bench = await startBench({ watching: false, working: false });
  elsewhere = await benchOn(connect(bench.service.pool.options.connectionString ?? '', 3), {
    ...{ care: false, watching: false, working: false },
  });
  systems = [await makeSystem(bench, 'North'), await makeSystem(bench, 'South')];
  const { db } = bench.service;
  const method = await db.method.findFirstOrThrow({ where: { quantityCode: 'alkalinity', isDefault: true } });
  const openedAt = new Date('2026-01-01T00:00Z');
  kitId = (await db.kit.create({ data: { methodId: method.id, label: 'KH 1', openedAt } })).id;
  const { id: methodId } = await db.method.create({
    data: {
      quantityCode: 'temperature',
      name: 'Sump probe',
      absolute: 0.05,
      isProbe: true,
      everyMinutes: 30,
    },
  });
  const { id } = await db.kit.create({ data: { methodId, label: 'Sump', openedAt } });
  probe = { kitId: id, methodId };
});
afterAll(async () => {
  await elsewhere.close();
  await bench.close();
});

const first = () => systems[0] as string;
const sql = (text: string, ...values: unknown[]) => elsewhere.service.pool.query(text, values);
const enter = (at: string, text = '8.0') =>
  read(elsewhere, first(), at, 'alkalinity', text, { unit: 'dKH', kitId });
/** Values of the probe, one each half hour from a moment. */
const report = (from: string, values: number) =>
  sql(
    `INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
     SELECT gen_random_uuid(), $1, 'temperature', $2, $3, $4::timestamptz + n * interval '30 minutes', 25 + n % 7 / 10.0, 0.05, '25', '°C'
       FROM generate_series(0, $5::int - 1) AS n`,
    ...[first(), probe.methodId, probe.kitId, from, values],
  );

const writes: [what: string, write: () => Promise<unknown>][] = [
  ['a test', () => enter('2026-11-20T08:00Z')],
  ['an earlier one', () => enter('2026-11-10T08:00Z', '8.1')],
  ['a later one within the same six hours', () => enter('2026-11-20T09:00Z', '8.2')],
  ['values of a probe', () => report('2026-11-01T00:00Z', 48 * 12)],
  [
    'a test that is not confirmed',
    () => sql(`UPDATE reading SET trust = 'unconfirmed' WHERE at = '2026-11-10T08:00Z'`),
  ],
  [
    'a test voided',
    () => sql(`UPDATE reading SET voided_at = now(), void_reason = 'slip' WHERE at = '2026-11-20T09:00Z'`),
  ],
  [
    'a probe that is doubted',
    () =>
      sql(
        `INSERT INTO probe_doubt (id, system_id, quantity_code, method_id, kit_id, label, since, words)
         VALUES (gen_random_uuid(), $1, 'temperature', $2, $3, 'Sump', '2026-11-05T00:00Z', 'x')`,
        ...[first(), probe.methodId, probe.kitId],
      ),
  ],
  ['one that is doubted since earlier', () => sql(`UPDATE probe_doubt SET since = '2026-11-03T00:00Z'`)],
  ['one that is trusted again', () => sql('DELETE FROM probe_doubt')],
];

/** The tables that the plan of a query reads. */
async function restsOn(query: string, values: unknown[]): Promise<string[]> {
  const { rows } = await bench.service.pool.query(`EXPLAIN (FORMAT JSON) ${query}`, values);
  const found = JSON.stringify(rows).matchAll(/"Relation Name":"(\w+)"/g);
  return [...new Set([...found].map(([, name]) => name as string))].sort();
}

describe('the traces of the wall, kept', () => {
  const kept = (of = span) => tracesOf(bench.service.pool, systems, codes, of);
  const anew = async (of = span) =>
    new Map(
      [...(await readTraces(bench.service.pool, systems, codes, of))].map(([key, { points }]) => [
        key,
        points,
      ]),
    );

  test.each(writes)('are never older than what is in the database: %s', async (_what, write) => {
    const before = await kept();
    expect(before).toEqual(await anew());
    await write();
    const after = await kept();
    expect(after).toEqual(await anew());
    expect(after).not.toEqual(before);
  });

  test('rest on readings and on what gives probes a vote, wherever readings are kept', async () => {
    const values = [systems, codes, span.from, span.to];
    expect(await restsOn(tracesQuery, values)).toEqual(['probe_doubt', 'reading', 'reading_pack']);
  });

  test('stay as they are when ended days of a probe are packed', async () => {
    const before = await kept();
    await rollUp(elsewhere.service.pool, new Date('2026-11-24T06:00Z'));
    await packDays(elsewhere.service);
    const packed = await sql('SELECT FROM reading_pack');
    expect(packed.rows.length).toBeGreaterThan(0);
    expect(await anew()).toEqual(before);
    expect(await kept()).toEqual(before);
  });

  test('are read again of the water and the quantity that changed alone', async () => {
    const before = await kept();
    await enter('2026-11-21T08:00Z');
    const after = await kept();
    for (const [key, points] of before)
      if (key === traceKey(first(), 'alkalinity')) expect(after.get(key)).not.toBe(points);
      else expect(after.get(key)).toBe(points);
  });

  test('go on with time, and end where they begin', async () => {
    await kept();
    await enter('2026-11-24T07:59Z', '8.3');
    await kept();
    for (const days of [0.01, 3, 51, 59]) {
      const later = {
        from: new Date(span.from.getTime() + days * dayMs),
        to: new Date(span.to.getTime() + days * dayMs),
      };
      expect(await kept(later)).toEqual(await anew(later));
    }
    const earlier = { from: new Date(span.from.getTime() - dayMs), to: new Date(span.to.getTime() - dayMs) };
    expect(await kept(earlier)).toEqual(await anew(earlier));
  });

  test('take in what was dated later once its time has come', async () => {
    elsewhere.at(new Date(benchNow.getTime() + 10 * minuteMs));
    await enter('2026-11-24T08:05Z', '8.4');
    const now = await kept();
    expect(now).toEqual(await anew());
    const later = { from: span.from, to: new Date(benchNow.getTime() + 10 * minuteMs) };
    const then = await kept(later);
    expect(then).toEqual(await anew(later));
    expect(then).not.toEqual(now);
  });
});

describe('how many readings were made with each kit, kept', () => {
  const kept = () => useCounts(bench.service.pool);
  const anew = async () => {
    const { rows } = await bench.service.pool.query<{ id: string; n: number }>(
      `SELECT kit_id AS id, sum(n)::int AS n FROM (
         SELECT kit_id, count(*) AS n FROM reading WHERE kit_id IS NOT NULL GROUP BY 1
         UNION ALL SELECT kit_id, sum(gone) FROM reading_rollup WHERE grain = 'day' AND gone > 0 GROUP BY 1
         UNION ALL SELECT kit_id, sum(readings) FROM reading_pack GROUP BY 1) AS each WHERE kit_id IS NOT NULL GROUP BY 1`,
    );
    return new Map(rows.map(({ id, n }) => [id, n]));
  };
  const changes: [what: string, write: () => Promise<unknown>][] = [
    ['one more test', () => enter('2026-11-22T08:00Z')],
    ['values of a probe', () => report('2026-11-20T00:00Z', 96)],
    [
      'a test that was made with no kit',
      () => sql(`UPDATE reading SET kit_id = NULL WHERE at = '2026-11-22T08:00Z'`),
    ],
    [
      'a test in another water',
      () =>
        read(elsewhere, systems[1] as string, '2026-11-23T08:00Z', 'alkalinity', '8.0', {
          unit: 'dKH',
          kitId,
        }),
    ],
  ];

  test.each(changes)('is never older than what is in the database: %s', async (_what, write) => {
    const before = await kept();
    expect(before).toEqual(await anew());
    await write();
    const after = await kept();
    expect(after).toEqual(await anew());
    expect(after).not.toEqual(before);
  });

  test('rests on readings, wherever they are kept, and on kits', async () => {
    const water = [traceKey(first(), 'alkalinity')];
    const tables = ['kit', 'method', 'reading', 'reading_origin', 'reading_pack', 'reading_rollup'];
    expect(await restsOn(countsQuery, [water])).toEqual(tables);
  });

  test('is the same when ended days of a probe are packed and let go', async () => {
    const before = await kept();
    const { pool } = elsewhere.service;
    const later = new Date(benchNow.getTime() + 500 * dayMs);
    await rollUp(pool, later);
    await packDays(elsewhere.service);
    await sql('UPDATE site SET probe_value_days = 130');
    elsewhere.at(later);
    await letGo(elsewhere.service);
    const { rows } = await sql('SELECT sum(gone)::int AS gone FROM reading_rollup');
    expect(rows[0].gone).toBeGreaterThan(0);
    expect(await anew()).toEqual(before);
    expect(await kept()).toEqual(before);
  });
});

/**
 * What the values of probes take and cost as rows and as packed days, and whether anything is slower where there are more
 * of them: part of `npm run bench:probes`. Fifty probes that report each minute; days before those that are filled as rows
 * are packs made by the database. Prints processor time of PostgreSQL and of the service's thread, asserts nothing.
 * Millions of values as the argument: `node tests/bench/packed.ts 1 5`.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { argv, stdout, threadCpuUsage } from 'node:process';
import { loadCare } from '../../seed/care.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { packDays, packedAfterDays } from '../../src/water/probe-days/packing.ts';
import { rollUp } from '../../src/water/readings/rollups.ts';
import { readingSlice } from '../../src/water/readings/series.ts';
import { sourceParts } from '../../src/water/readings/sources.ts';
import { loadTemperatures } from '../../src/water/record/temperatures.ts';
import { serverTime } from './samples/server-time.ts';

const now = new Date('2026-11-24T08:17:00Z');
const dayMs = 86_400_000;
const [systems, probesOfEach] = [10, 5];
const probes = systems * probesOfEach;
/** Days that are filled as rows: three of them are packed. */
const filledDays = packedAfterDays + 4;
const asked = argv.slice(2).map(Number);
const sizes = asked.length > 0 ? asked : [1, 5];
const repeats = 5;
const say = (line: string) => stdout.write(`${line}\n`);

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const database = await openDatabase({ EVENWATER_DATA: folder });
const { db, pool } = database;

// Values at the probe's resolution, sent on the second and kept within it; ids by the time at which they were kept.
const fill = `
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, created_at, value, uncertainty, entered_text, entered_unit)
  SELECT uuidv7(at - clock_timestamp()), $1, 'temperature', $2, kit_id, at, at + lag * interval '1 millisecond', value, 0.05, value::text, 'Cel'
    FROM generate_series($4::timestamptz, $5::timestamptz, interval '1 minute') AS at CROSS JOIN unnest($3::uuid[]) AS kit_id
   CROSS JOIN LATERAL (SELECT round((25 + 0.5 * sin(extract(epoch FROM at) / 13751.0) + 0.05 * random())::numeric, 2)::float8 AS value, (40 + 900 * random())::int AS lag) AS one
   ORDER BY at`;

// Packs and roll-ups of some days once more, so many days earlier.
const earlier = `
  WITH packed AS (
    INSERT INTO reading_pack (system_id, quantity_code, method_id, kit_id, from_at, until_at, entered_unit, factor, trust_reason, readings,
                              least_id, greatest_id, ids, times, "values", uncertainties, lags, texts)
    SELECT system_id, quantity_code, method_id, kit_id, from_at - gap, until_at - gap, entered_unit, factor, trust_reason, readings,
           new_ids[1], new_ids[readings], new_ids, times, pack.values, uncertainties, lags, texts
      FROM reading_pack AS pack CROSS JOIN (SELECT $1 * interval '1 day' AS gap) AS by
     CROSS JOIN LATERAL (SELECT array_agg(uuidv7(from_at - gap + ms * interval '1 millisecond' - clock_timestamp()) ORDER BY ms) AS new_ids FROM unnest(times) AS ms) AS made
     WHERE from_at >= $2
  ), middles AS (
    INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, created_at, value, uncertainty, entered_text, entered_unit)
    SELECT uuidv7(at - gap - clock_timestamp()), reading.system_id, reading.quantity_code, reading.method_id, reading.kit_id, at - gap, created_at - gap, value, uncertainty, entered_text, reading.entered_unit
      FROM reading_pack AS pack CROSS JOIN (SELECT $1 * interval '1 day' AS gap) AS by
      JOIN reading ON reading.kit_id = pack.kit_id AND at >= from_at AND at < until_at WHERE from_at >= $2)
  INSERT INTO reading_rollup
  SELECT rollup.system_id, rollup.quantity_code, grain, rollup.at - gap, instrument, rollup.method_id, rollup.kit_id, rollup.readings, standing, below, above, unconfirmed,
         low, high, rollup.mean, middle, last, last_at - gap, uncertainty, gone, packed
    FROM reading_pack AS pack CROSS JOIN (SELECT $1 * interval '1 day' AS gap) AS by
    JOIN reading_rollup AS rollup ON rollup.kit_id = pack.kit_id AND rollup.at >= from_at AND rollup.at < until_at WHERE from_at >= $2`;

const one = `
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, created_at, value, uncertainty, entered_text, entered_unit)
  SELECT uuidv7(), $1, 'temperature', $2, kit_id, at, at, 25.12, 0.05, '25.12', 'Cel'
    FROM generate_series($4::timestamptz, $4::timestamptz + interval '199 minutes', interval '1 minute') AS at CROSS JOIN unnest($3::uuid[]) AS kit_id`;

async function withoutRules(
  work: (query: (sql: string, values: unknown[]) => Promise<unknown>) => Promise<void>,
) {
  const client = await pool.connect();
  try {
    await client.query('SET session_replication_role = replica');
    await work((sql, values) => client.query(sql, values));
    await client.query('RESET session_replication_role');
  } finally {
    client.release();
  }
}

/** Milliseconds of processor of PostgreSQL and of the thread, the mean of some runs. */
async function cost(
  work: (i: number) => Promise<unknown>,
  times = repeats,
): Promise<{ server: number; thread: number }> {
  await work(0);
  const [before, server] = [threadCpuUsage(), serverTime(folder)];
  for (let i = 1; i <= times; i += 1) await work(i);
  const { user, system } = threadCpuUsage(before);
  return { server: (serverTime(folder) - server) / times, thread: (user + system) / 1000 / times };
}
const told = ({ server, thread }: { server: number; thread: number }) =>
  `${server.toFixed(1)} ms of PostgreSQL, ${thread.toFixed(1)} of the thread`;

try {
  await loadCare(pool);
  const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'UTC' } });
  const method = await db.method.create({
    data: {
      quantityCode: 'temperature',
      name: 'Bench probe',
      absolute: 0.05,
      isProbe: true,
      everyMinutes: 1,
    },
  });
  const farm: { id: string; kits: string[] }[] = [];
  for (let i = 0; i < systems; i += 1) {
    const { id } = await db.system.create({
      data: { siteId: site.id, name: `Long run ${i}`, volumeL: 1000 },
    });
    const kits: string[] = [];
    for (let j = 0; j < probesOfEach; j += 1)
      kits.push(
        (
          await db.kit.create({
            data: { methodId: method.id, label: `Probe ${i}.${j}`, openedAt: new Date('2000-01-01') },
          })
        ).id,
      );
    farm.push({ id, kits });
  }
  const first = farm[0] ?? { id: '', kits: [] };
  const beginning = new Date(Math.floor(now.getTime() / dayMs - filledDays) * dayMs);
  await withoutRules(async (query) => {
    for (const { id, kits } of farm) await query(fill, [id, method.id, kits, beginning, now]);
  });
  await pool.query('SELECT unroll_readings(NULL, NULL)');
  await pool.query('VACUUM ANALYZE reading');
  await rollUp(pool, new Date(now.getTime() + 3_600_000));
  const filled = (await db.reading.count()) / 1e6;
  const [size] = (
    await pool.query<{ bytes: number }>(
      `SELECT (pg_table_size('reading') + pg_indexes_size('reading')) / $1::float8 AS bytes`,
      [filled * 1e6],
    )
  ).rows;
  say(
    `${filled.toFixed(2)} million values of ${probes} probes as rows: ${size?.bytes.toFixed(0)} bytes each, filled in order`,
  );

  const question = (days: number) => ({
    ...{ systemId: first.id, code: 'temperature', from: new Date(now.getTime() - days * dayMs), to: now },
    ...{ timeZone: 'UTC', wrong: new Map<string, number>() },
  });
  const page = (daysAgo: number) =>
    readingSlice(pool, {
      ...{ series: [{ systemId: first.id, quantityCode: 'temperature' }], to: now, after: null, limit: 2000 },
      from: new Date(now.getTime() - daysAgo * dayMs),
    });
  let minute = 0;
  async function write() {
    minute += 200;
    await pool.query(one, [first.id, method.id, first.kits, new Date(now.getTime() + minute * 60_000)]);
  }
  async function measure(oldDaysAgo: number) {
    say(`  1,000 new values: ${told(await cost(write))}`);
    say(`  a page of 2,000 values ${oldDaysAgo} days ago: ${told(await cost(() => page(oldDaysAgo)))}`);
    say(
      `  a day drawn, some days ago: ${told(await cost(() => sourceParts(pool, { ...question(oldDaysAgo), to: new Date(now.getTime() - (oldDaysAgo - 1) * dayMs) })))}`,
    );
    say(`  a year drawn: ${told(await cost(() => sourceParts(pool, question(365))))}`);
    const systemsNow = farm.map(({ id }) => id);
    say(
      `  temperatures of 120 days, ten systems: ${told(await cost(() => loadTemperatures(pool, systemsNow, { from: now, now }), 1))}`,
    );
  }
  say('as rows alone');
  await measure(packedAfterDays + 2);

  const before = serverTime(folder);
  const packed = await packDays({ db, pool, now: () => now });
  say(
    `packing ${packed} values: ${((1000 * (serverTime(folder) - before)) / packed).toFixed(0)} µs of PostgreSQL a value`,
  );
  await pool.query('VACUUM ANALYZE reading');
  await pool.query('VACUUM ANALYZE reading_pack');
  const [kept] = (
    await pool.query<{ bytes: number }>(
      `SELECT pg_total_relation_size('reading_pack') / sum(readings)::float8 AS bytes FROM reading_pack`,
    )
  ).rows;
  const [row, pack] = [size?.bytes ?? 0, kept?.bytes ?? 0];
  const rowDays = packedAfterDays + 1;
  say(
    `  a packed value takes ${pack.toFixed(1)} bytes; of 400 days, ${rowDays} of them rows: ${((rowDays * row + (400 - rowDays) * (pack + row / 1440)) / 400).toFixed(1)} a value`,
  );
  const from = new Date(beginning.getTime() + dayMs);
  const daysOfPacks = Math.round(packed / probes / 1439);
  // The first day that was filled stays rows.
  let gap = 1;
  let all = filled;
  for (const million of sizes) {
    await withoutRules(async (query) => {
      while (all < million) {
        gap += daysOfPacks;
        await query(earlier, [gap, from]);
        all += packed / 1e6;
      }
    });
    await pool.query('VACUUM ANALYZE reading');
    await pool.query('VACUUM ANALYZE reading_pack');
    await pool.query('VACUUM ANALYZE reading_rollup');
    const rows = await db.reading.count();
    say(`${all.toFixed(2)} million values, ${(rows / 1e6).toFixed(2)} million of them rows`);
    await measure(packedAfterDays + 2);
    if (gap > 1) say(`  a page of the oldest: ${told(await cost(() => page(gap + packedAfterDays + 2)))}`);
  }
} finally {
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

/**
 * What a chart of a probe that reports every minute costs as its readings grow, and what rolling them up does: part of
 * `npm run bench:probes`. Prints figures, asserts nothing. Years of readings as the argument: `node tests/bench/rolled.ts 1 2 4`.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { performance } from 'node:perf_hooks';
import { argv, cpuUsage, stdout } from 'node:process';
import { loadCare } from '../../seed/care.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { rollUp } from '../../src/water/readings/rollups.ts';
import { sourceParts } from '../../src/water/readings/sources.ts';
import { readForecastHistories } from '../../src/water/system-page/forecast.ts';

const now = new Date('2026-11-24T08:17:00Z');
const asked = argv.slice(2).map(Number);
const sizes = asked.length > 0 ? asked : [1, 2];
const repeats = 9;
const yearMinutes = 365 * 1440;
const say = (line: string) => stdout.write(`${line}\n`);

// Keys and marks are set aside while it fills; then all is marked at once.
const fill = `
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
  SELECT gen_random_uuid(), $1, 'temperature', $2, $3, $4::timestamptz - n * interval '1 minute',
         25 + sin(n / 229.0) + 0.05 * random(), 0.05, '25.12', 'Cel'
    FROM generate_series($5::int, $6::int) AS n ORDER BY n DESC`;

const middle = (list: readonly number[]): number =>
  list.toSorted((a, b) => a - b)[list.length >> 1] ?? Number.NaN;

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const { db, pool, close } = await openDatabase({ EVENWATER_DATA: folder });
try {
  await loadCare(pool);
  const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
  const system = await db.system.create({ data: { siteId: site.id, name: 'Long run', volumeL: 1000 } });
  const probe = { quantityCode: 'temperature', name: 'Bench probe', absolute: 0.05, isProbe: true };
  const method = await db.method.create({ data: { ...probe, everyMinutes: 1 } });
  const openedAt = new Date('2000-01-01T00:00Z');
  const kit = await db.kit.create({ data: { methodId: method.id, label: 'Probe', openedAt } });

  async function fillTo(years: number, from: number): Promise<void> {
    const client = await pool.connect();
    await client.query('SET session_replication_role = replica');
    await client.query(fill, [
      system.id,
      method.id,
      kit.id,
      now,
      from * yearMinutes,
      years * yearMinutes - 1,
    ]);
    await client.query('RESET session_replication_role');
    await client.query('SELECT unroll_readings(NULL, NULL)');
    await client.query('VACUUM ANALYZE reading');
    client.release();
  }

  /** Milliseconds by the clock and of the service's own processor, the middle of some. */
  async function chart(days: number): Promise<string> {
    const runs: { clock: number; own: number; points: number }[] = [];
    for (let i = 0; i < repeats; i += 1) {
      const [start, before] = [performance.now(), cpuUsage()];
      const from = new Date(now.getTime() - days * 86_400_000);
      const question = { systemId: system.id, code: 'temperature', from, to: now, timeZone: site.timeZone };
      const [part] = await sourceParts(pool, { ...question, wrong: new Map() });
      const { user, system: kernel } = cpuUsage(before);
      const points = part?.buckets.length ?? 0;
      runs.push({ clock: performance.now() - start, own: (user + kernel) / 1000, points });
    }
    return `${middle(runs.map(({ clock }) => clock)).toFixed(1)} ms by the clock (least ${Math.min(...runs.map(({ clock }) => clock)).toFixed(1)}), ${middle(runs.map(({ own }) => own)).toFixed(1)} of the service, ${runs[0]?.points} points`;
  }

  let filled = 0;
  for (const years of sizes) {
    await fillTo(years, filled);
    filled = years;
    say(`${((years * yearMinutes) / 1e6).toFixed(2)} million values of one probe, one a minute`);
    if (years === sizes[0]) say(`  a year drawn from the values:   ${await chart(365)}`);
    const start = performance.now();
    await rollUp(pool, new Date(now.getTime() + 3_600_000));
    say(`  rolled up in ${((performance.now() - start) / 1000).toFixed(1)} s`);
    await pool.query('VACUUM ANALYZE reading_rollup');
    say(`  a year drawn from the roll-ups: ${await chart(365)}`);
    say(`  a week drawn from the roll-ups: ${await chart(7)}`);
    const asking = performance.now();
    await readForecastHistories(pool, { systemIds: [system.id], code: 'temperature', now });
    say(`  what a forecast is made from: ${(performance.now() - asking).toFixed(1)} ms by the clock`);
    const { rows } = await pool.query<{ own: number; kept: number }>(
      `SELECT (pg_table_size('reading') + pg_indexes_size('reading'))::float8 / $1::float8 AS own,
              (pg_table_size('reading_rollup') + pg_indexes_size('reading_rollup'))::float8 / $1::float8 AS kept`,
      [years * yearMinutes],
    );
    say(
      `  a value takes ${rows[0]?.own.toFixed(0)} bytes with its indexes, its roll-ups ${rows[0]?.kept.toFixed(1)}`,
    );
  }
} finally {
  await close();
  await rm(folder, { recursive: true, force: true });
}

/**
 * What probes that report every minute cost: `node tests/bench/probes.ts`. One system with six of them, forty days
 * filled; one evaluation, and what its loading and judging hold the loop for at most. Prints figures, asserts
 * nothing.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { performance } from 'node:perf_hooks';
import { cpuUsage, stdout } from 'node:process';
import { pino } from 'pino';
import { loadCare } from '../../seed/care.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startJobs } from '../../src/platform/jobs.ts';
import { evaluateSystems } from '../../src/watch/evaluation/evaluate.ts';
import { probeTraces } from '../../src/water/trust/probe-traces.ts';

const now = new Date('2026-11-24T08:00:00Z');
const codes = ['temperature', 'ph', 'oxygen', 'salinity', 'alkalinity', 'nitrate'];
const repeats = 9;

/** Forty days of a value a minute, with the swing of a day and noise. */
const fill = `
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
  SELECT gen_random_uuid(), $1, $2, $3, $4, at, $5::float8 * (1 + 0.01 * sin(extract(epoch FROM at) / 13751.0) + 0.002 * random()), $5::float8 / 100, '', ''
    FROM generate_series($6::timestamptz - interval '40 days', $6::timestamptz, interval '1 minute') AS at`;

const oneMinute = `
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
  SELECT gen_random_uuid(), system_id, quantity_code, method_id, kit_id, $2, value, uncertainty, '', ''
    FROM (SELECT DISTINCT ON (quantity_code) * FROM reading WHERE system_id = $1 AND at > $2::timestamptz - interval '1 hour'
           ORDER BY quantity_code, at DESC) AS last`;

const middle = (list: readonly number[]): number =>
  list.toSorted((a, b) => a - b)[list.length >> 1] ?? Number.NaN;

/** Milliseconds by the clock, and of the processor, which is the most that the loop was held for. */
async function timed(work: () => Promise<unknown>): Promise<{ clock: number; loop: number }> {
  const [start, before] = [performance.now(), cpuUsage()];
  await work();
  const { user, system } = cpuUsage(before);
  return { clock: performance.now() - start, loop: (user + system) / 1000 };
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const url = process.env.EVENWATER_BENCH_URL;
const database = await openDatabase(
  url === undefined ? { EVENWATER_DATA: folder } : { EVENWATER_DATA: folder, DATABASE_URL: url },
);
const log = pino({ level: 'silent' });
const jobs = await startJobs(database.url, database.pool, log);
try {
  const { pool, db } = database;
  await loadCare(pool);
  const site = await db.site.create({ data: { name: 'Probes', timeZone: 'Europe/Lisbon' } });
  const system = await db.system.create({ data: { siteId: site.id, name: 'Six probes', volumeL: 1000 } });
  for (const [i, code] of codes.entries()) {
    const method = await db.method.create({
      data: { quantityCode: code, name: `probe ${code}`, absolute: 0.05, everyMinutes: 1, isProbe: true },
    });
    const kit = await db.kit.create({
      data: { methodId: method.id, label: `Probe ${i}`, openedAt: new Date('2026-01-01') },
    });
    await pool.query(fill, [system.id, code, method.id, kit.id, [25, 8.2, 6.8, 35, 3, 10][i], now]);
  }
  await pool.query('VACUUM ANALYZE reading');
  const service = { db, pool, jobs, log } as unknown as Parameters<typeof evaluateSystems>[0];
  const at = (minutes: number) => new Date(now.getTime() + minutes * 60_000);
  const first = await timed(() => evaluateSystems(service, [system.id], at(0)));
  stdout.write(
    `first evaluation: ${first.clock.toFixed(0)} ms by the clock, ${first.loop.toFixed(0)} ms of the processor\n`,
  );
  const runs: { clock: number; loop: number }[] = [];
  for (let i = 1; i <= repeats; i += 1) {
    await pool.query(oneMinute, [system.id, at(i)]);
    runs.push(await timed(() => evaluateSystems(service, [system.id], at(i))));
  }
  stdout.write(
    `an evaluation after six values more: ${middle(runs.map(({ clock }) => clock)).toFixed(0)} ms by the clock, ${middle(runs.map(({ loop }) => loop)).toFixed(0)} ms of the processor (middle of ${repeats})\n`,
  );
  const traces = await timed(() => probeTraces(pool, [system.id], null, at(repeats)));
  stdout.write(
    `ten days of six probes: ${traces.clock.toFixed(0)} ms by the clock, ${traces.loop.toFixed(0)} ms of the processor\n`,
  );
} finally {
  await jobs.stop();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

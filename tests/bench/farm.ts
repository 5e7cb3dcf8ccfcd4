/**
 * How long the watch takes on a farm of 200 systems, 50,000 lots and three years of daily tests, and how that depends
 * on the farm's size: `npm run bench:farm`. Prints figures, asserts nothing. EVENWATER_BENCH_URL: a server to use
 * (a database of a name of its own is made and left there); an embedded one otherwise.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { pino } from 'pino';
import { loadCare } from '../../seed/care.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startJobs } from '../../src/platform/jobs.ts';
import { evaluateSystems, judge } from '../../src/watch/evaluation/evaluate.ts';
import { currentFacts, loadFacts } from '../../src/watch/facts/facts.ts';
import { loadSettings } from '../../src/watch/settings/settings.ts';
import { type FarmSize, fillFarm } from './farm/fill.ts';
import { middleOf, queriesOf } from './measure.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const now = new Date('2026-11-24T08:00:00Z');
const sizes: FarmSize[] = [
  { systems: 20, lots: 5_000, years: 3 },
  { systems: 200, lots: 50_000, years: 3 },
];

/** The last alkalinity of a system, read once more. */
const oneReading = `
  INSERT INTO reading (id, system_id, quantity_code, method_id, kit_id, at, value, uncertainty, entered_text, entered_unit)
  SELECT gen_random_uuid(), system_id, quantity_code, method_id, kit_id, at + interval '1 minute', value, uncertainty, '', ''
    FROM reading WHERE system_id = $1 AND quantity_code = 'alkalinity' ORDER BY at DESC LIMIT 1`;

async function measure(size: FarmSize, url: string | undefined): Promise<void> {
  const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
  const database = await openDatabase(
    url === undefined ? { EVENWATER_DATA: folder } : { EVENWATER_DATA: folder, DATABASE_URL: url },
  );
  const jobs = await startJobs(database.url, database.pool, pino({ level: 'silent' }));
  try {
    const { pool, db } = database;
    await loadCare(pool);
    const filling = performance.now();
    await fillFarm(pool, size, now);
    say(
      `\n${size.systems} systems, ${size.lots} lots, ${size.years} years of seven tests a day (filled in ${((performance.now() - filling) / 1000).toFixed(0)} s)`,
    );
    const line = (what: string, value: number, unit: string) =>
      say(`  ${what.padEnd(52)} ${value.toFixed(0).padStart(7)} ${unit}`);
    const service = { pool, db, jobs, log: pino({ level: 'silent' }) };
    const book = await loadSettings(pool);
    const one = [
      (await pool.query<{ id: string }>('SELECT id FROM system ORDER BY id LIMIT 1')).rows[0]?.id ?? '',
    ];
    line(
      'queries to load the facts of all',
      await queriesOf(pool, (counted) => loadFacts(counted, null, now)),
      '',
    );
    line(
      'queries to load the facts of one system',
      await queriesOf(pool, (counted) => loadFacts(counted, one, now)),
      '',
    );
    line('load the facts of all', await middleOf(3, () => loadFacts(pool, null, now)), 'ms');
    const facts = await loadFacts(pool, null, now);
    const judgeAll = async () => {
      for (const system of facts) await judge(system, book, now);
    };
    line('all rules on all, first time', await middleOf(1, judgeAll), 'ms');
    line('all rules on all, again', await middleOf(2, judgeAll), 'ms');
    const delay = monitorEventLoopDelay({ resolution: 1 });
    delay.enable();
    const blocked = () => {
      line('  longest the event loop was blocked', delay.max / 1e6, 'ms');
      delay.reset();
    };
    const whole = async (systems: readonly string[] | null, minutes: number) => {
      const then = new Date(now.getTime() + minutes * 60_000);
      for await (const some of currentFacts(pool, systems, then)) {
        for (const system of some) await judge(system, book, then);
      }
    };
    const timed = async (what: string, work: () => Promise<unknown>) => {
      const start = process.cpuUsage();
      line(what, await middleOf(1, work), 'ms');
      const { user, system } = process.cpuUsage(start);
      line('  of it in this process', (user + system) / 1000, 'ms of processor');
    };
    await timed('load and evaluate all, first time', () => whole(null, 0));
    blocked();
    await timed('load and evaluate all, an hour later', () => whole(null, 60));
    blocked();
    await pool.query(oneReading, one);
    await timed('load and evaluate one system after a reading', () => whole(one, 61));
    blocked();
    await timed('load and evaluate one system, nothing new', () => whole(one, 62));
    delay.disable();
    line(
      'evaluate and write all, first time',
      await middleOf(1, () => evaluateSystems(service, 'all', now)),
      'ms',
    );
    line(
      'evaluate and write all, nothing new',
      await middleOf(3, () => evaluateSystems(service, 'all', now)),
      'ms',
    );
    line(
      'evaluate and write one system, nothing new',
      await middleOf(9, () => evaluateSystems(service, one, now)),
      'ms',
    );
    line('memory (resident)', process.memoryUsage().rss / 1e6, 'MB');
  } finally {
    await jobs.stop();
    await database.close();
    await rm(folder, { recursive: true, force: true });
  }
}

say(`${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores; medians`);
for (const size of process.argv.includes('--small') ? sizes.slice(0, 1) : sizes) {
  await measure(size, process.env.EVENWATER_BENCH_URL);
}

/**
 * How long the watch takes on the demo farm: `node tests/bench/watch.ts`. Prints figures, asserts nothing. The first
 * figure of each line is for the whole farm, the second for one system.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import type pg from 'pg';
import { pino } from 'pino';
import { loadCare } from '../../seed/care.ts';
import { growDemo } from '../../seed/demo/grow.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startJobs } from '../../src/platform/jobs.ts';
import { evaluateSystems, judge } from '../../src/watch/evaluate.ts';
import { loadFacts } from '../../src/watch/facts.ts';
import { loadSettings } from '../../src/watch/settings.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const now = new Date('2026-11-24T08:00:00Z');
const rounds = 5;

/** The middle of several runs, milliseconds. */
async function middleOf(work: () => Promise<unknown>): Promise<number> {
  const times: number[] = [];
  for (let i = 0; i < rounds; i += 1) {
    const start = performance.now();
    await work();
    times.push(performance.now() - start);
  }
  return times.sort((a, b) => a - b)[Math.floor(rounds / 2)] ?? Number.NaN;
}

/** How many queries go through the pool while `work` runs with it. */
async function queriesOf(pool: pg.Pool, work: (counted: pg.Pool) => Promise<unknown>): Promise<number> {
  let queries = 0;
  const counted = new Proxy(pool, {
    get(target, name) {
      const own = Reflect.get(target, name, target) as unknown;
      if (name === 'query') queries += 1;
      return typeof own === 'function' ? own.bind(target) : own;
    },
  });
  await work(counted);
  return queries;
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const database = await openDatabase({ EVENWATER_DATA: folder });
const log = pino({ level: 'silent' });
const jobs = await startJobs(database.url, log);
try {
  const { pool, db } = database;
  await loadCare(pool);
  const { calmSystemId } = await growDemo(pool, { seed: 20_261, now });
  const service = { pool, db, jobs, log };
  const book = await loadSettings(pool);
  const [all, one] = [null, [calmSystemId]];
  const facts = await loadFacts(pool, all, now);
  const lots = facts.reduce((sum, system) => sum + system.lots.length, 0);
  const judged = (systems: typeof facts) => async () => {
    for (const system of systems) await judge(system, book, now);
  };
  const line = (what: string, farm: number, single: number, unit: string) =>
    say(`${what.padEnd(34)} ${farm.toFixed(0).padStart(7)} ${single.toFixed(0).padStart(7)} ${unit}`);
  say(
    `${cpus()[0]?.model ?? 'unknown processor'}; ${facts.length} systems, ${lots} lots, median of ${rounds} runs`,
  );
  await evaluateSystems(service, 'all', now);
  line(
    'queries to load facts',
    await queriesOf(pool, (counted) => loadFacts(counted, all, now)),
    await queriesOf(pool, (counted) => loadFacts(counted, one, now)),
    '',
  );
  line(
    'loading facts',
    await middleOf(() => loadFacts(pool, all, now)),
    await middleOf(() => loadFacts(pool, one, now)),
    'ms',
  );
  line('all rules', await middleOf(judged(facts)), await middleOf(judged(facts.slice(0, 1))), 'ms');
  line(
    'whole evaluation, nothing new',
    await middleOf(() => evaluateSystems(service, 'all', now)),
    await middleOf(() => evaluateSystems(service, one, now)),
    'ms',
  );
} finally {
  await jobs.stop();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

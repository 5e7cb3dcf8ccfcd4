/**
 * How long the watch takes on the demo farm: `node tests/bench/watch.ts`. Prints figures, asserts nothing. The first
 * figure of each line is for the whole farm, the second for one system.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { loadCare } from '../../seed/care.ts';
import { growDemo } from '../../seed/demo/grow.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startJobs } from '../../src/platform/jobs.ts';
import { evaluateSystems, judge } from '../../src/watch/evaluation/evaluate.ts';
import { loadFacts } from '../../src/watch/facts/facts.ts';
import { loadSettings } from '../../src/watch/settings/settings.ts';
import { middleOf, queriesOf } from './measure.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const now = new Date('2026-11-24T08:00:00Z');
const rounds = 5;

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const database = await openDatabase({ EVENWATER_DATA: folder });
const log = pino({ level: 'silent' });
const jobs = await startJobs(database.url, database.pool, log);
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
    await middleOf(rounds, () => loadFacts(pool, all, now)),
    await middleOf(rounds, () => loadFacts(pool, one, now)),
    'ms',
  );
  line(
    'all rules',
    await middleOf(rounds, judged(facts)),
    await middleOf(rounds, judged(facts.slice(0, 1))),
    'ms',
  );
  line(
    'whole evaluation, nothing new',
    await middleOf(rounds, () => evaluateSystems(service, 'all', now)),
    await middleOf(rounds, () => evaluateSystems(service, one, now)),
    'ms',
  );
} finally {
  await jobs.stop();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

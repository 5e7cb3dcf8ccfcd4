/**
 * A chain of farms on one PostgreSQL and one instance: `npm run bench:chain` (`-- --farms=500 --seconds=60`). Each farm has two
 * systems, 100 lots, ten probes that report each minute, a tablet on its round and somebody who looks at Today. More and more
 * of them do so at the same time. Prints figures, asserts nothing.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { setTimeout as wait } from 'node:timers/promises';
import { Worker } from 'node:worker_threads';
import { loadCare } from '../../seed/care.ts';
import { evaluationQueue } from '../../src/platform/change.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { type Bench, benchOn } from '../support/service.ts';
import { staffFarms } from './chain/farms.ts';
import { doings, type Farm, type Pace, type Walked, type Walking } from './chain/walker.ts';
import { fillFarm } from './farm/fill.ts';
import { processorClock, type Used } from './http/processor.ts';
import { spread } from './http/spread.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const asked = (name: string, otherwise: number) =>
  Number(process.argv.find((word) => word.startsWith(`--${name}=`))?.split('=')[1] ?? otherwise);
const farms = asked('farms', 500);
const seconds = asked('seconds', 60);
const probes = 10;

/** What a farm does a minute: by day without a walk, and while somebody walks (a rack every twelve seconds, Today twice an hour; own choice). */
const paces: Record<'probes alone' | 'all walk', Pace> = {
  'probes alone': { packs: 1, entries: 0, pages: 0 },
  'all walk': { packs: 1, entries: 5, pages: 1 / 30 },
};

const walker = new Worker(new URL('./chain/walker.ts', import.meta.url));
const walk = (walking: Walking) =>
  new Promise<Walked>((resolve, reject) => {
    walker.once('message', resolve);
    walker.once('error', reject);
    walker.postMessage(walking);
  });

/** Systems that wait to be looked at, and since when the oldest does, s. */
async function waiting({ service: { pool } }: Bench): Promise<{ systems: number; oldest: number }> {
  const { rows } = await pool.query<{ systems: number; oldest: number }>(
    `SELECT count(DISTINCT data->>'systemId')::int AS systems, coalesce(extract(epoch FROM now() - min(created_on)), 0)::float8 AS oldest
       FROM pgboss.job WHERE name = $1 AND state < 'completed' AND start_after <= now()`,
    [evaluationQueue],
  );
  return rows[0] ?? { systems: 0, oldest: 0 };
}

const millis = (value: number) => value.toFixed(0).padStart(6);

async function tryWith(
  bench: Bench,
  { url, awake, pace }: { url: string; awake: Farm[]; pace: Pace },
  used: () => Promise<Used>,
): Promise<void> {
  const loop = monitorEventLoopDelay({ resolution: 5 });
  const [before, begun] = [await used(), performance.now()];
  loop.enable();
  const { told, wrong } = await walk({ url, farms: awake, pace, seconds });
  loop.disable();
  const took = performance.now() - begun;
  const [after, late] = [await used(), await waiting(bench)];
  const share = (ms: number) => `${((100 * ms) / took).toFixed(0)} %`.padStart(6);
  const answers = doings.map((doing) => {
    const { median, p99 } = spread(told[doing].times);
    return told[doing].times.length === 0 ? '      -      -' : `${millis(median)} ${millis(p99)}`;
  });
  const count = doings.reduce((sum, doing) => sum + told[doing].times.length, 0);
  const refused = doings.reduce((sum, doing) => sum + told[doing].refused, 0);
  const database =
    before.database === null || after.database === null ? '   -' : share(after.database - before.database);
  say(
    `${String(awake.length).padStart(5)} ${(count / seconds).toFixed(1).padStart(9)} ${(took / 1000).toFixed(0).padStart(5)}   ${answers.join('   ')}   ${share(after.node - before.node)} ${database}  ${(loop.percentile(99) / 1e6).toFixed(0).padStart(5)}   ${String(late.systems).padStart(5)} ${late.oldest.toFixed(0).padStart(5)}  ${String(refused).padStart(4)}${wrong === '' ? '' : `  ${wrong}`}`,
  );
  await caughtUp(bench);
}

/** Waits until no system waits, so that the next line begins at rest; gives up after two minutes. */
async function caughtUp(bench: Bench): Promise<void> {
  const begun = performance.now();
  while ((await waiting(bench)).systems > 0 && performance.now() - begun < 120_000) await wait(500);
  say(`      caught up after ${((performance.now() - begun) / 1000).toFixed(0)} s`);
}

const size = async (bench: Bench) =>
  Number(
    (
      await bench.service.pool.query<{ bytes: string }>(
        'SELECT pg_database_size(current_database()) AS bytes',
      )
    ).rows[0]?.bytes,
  );

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const database = await openDatabase({ EVENWATER_DATA: folder });
try {
  say(`${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores, the farms' sending on them too`);
  await loadCare(database.pool);
  await fillFarm(
    database.pool,
    { sites: farms, systems: 2 * farms, lots: 100 * farms, years: 0.25 },
    new Date(),
  );
  const bench = await benchOn(database, { running: true });
  const url = await bench.app.listen({ host: '127.0.0.1', port: 0 });
  const all = await staffFarms(bench, url, probes);
  say(`${farms} farms of two systems, 100 lots and ${probes} probes; ${seconds} s each`);
  await caughtUp(bench);
  const used = await processorClock(database.pool);
  for (const [name, pace] of Object.entries(paces)) {
    say(
      `\n${name}: a farm sends ${pace.packs} pack of ${probes}, ${pace.entries} racks and ${pace.pages.toFixed(2)} pages a minute`,
    );
    say(
      'farms asks a s   s       packs           entries         Today        node  database loop  systems waiting, oldest s; refused',
    );
    const start = await size(bench);
    for (const share of [0.1, 0.25, 0.5, 1])
      await tryWith(bench, { url, awake: all.slice(0, Math.ceil(share * farms)), pace }, used);
    say(`      the database grew by ${((await size(bench)) / 1e6 - start / 1e6).toFixed(0)} MB`);
  }
  await bench.app.close();
  await bench.service.jobs.stop();
} finally {
  await walker.terminate();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

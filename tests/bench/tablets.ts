/**
 * Tablets on one round: `npm run bench:tablets` (`-- --tablets=20 --seconds=40`, `--every=5`: seconds between two taps). They
 * walk a round of some forty racks on a farm of 40 systems and 10,000 lots, each with the browser's own sender and copy of the
 * round, and rules are evaluated meanwhile. Prints how long an entry takes beside one tablet alone, asserts nothing.
 * EVENWATER_BENCH_URL: a database to use (filled where it holds no farm yet, and left there).
 */
import { once } from 'node:events';
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { Worker } from 'node:worker_threads';
import { hash } from '@node-rs/argon2';
import { loadCare } from '../../seed/care.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { localDay } from '../../src/platform/days.ts';
import { begin, planRound, zone } from '../rounds/hall.ts';
import { type Bench, benchOn } from '../support/service.ts';
import { fillFarm } from './farm/fill.ts';
import { processorClock } from './http/processor.ts';
import { signInOverHttp } from './http/sign-in.ts';
import { spread } from './http/spread.ts';
import type { Rack, Walk, Walked } from './tablets/walkers.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const asked = (name: string, otherwise: number) =>
  Number(process.argv.find((word) => word.startsWith(`--${name}=`))?.split('=')[1] ?? otherwise);
const [tablets, seconds, every] = [asked('tablets', 20), asked('seconds', 40), asked('every', 5)];
const password = 'a long enough password';

const walkers = new Worker(new URL('./tablets/walkers.ts', import.meta.url));
async function walkOn(walk: Walk): Promise<Walked> {
  const answered = once(walkers, 'message');
  walkers.postMessage(walk);
  const [answer] = (await answered) as [Walked];
  return answer;
}

/** As many hands as there are tablets, signed in. */
async function signedIn(bench: Bench, url: string, siteId: string): Promise<string[]> {
  const { db } = bench.service;
  // The work of a hash is no part of what is measured.
  const passwordHash = await hash(password, { memoryCost: 8, timeCost: 1, parallelism: 1 });
  const cookies: string[] = [];
  // A place that signs in twenty times a minute is kept out: some share a session.
  for (let n = 0; n < Math.min(tablets, 10); n++) {
    const email = `tablet.${n}@example.org`;
    const account = await db.account.upsert({
      where: { email },
      create: { name: `Hand ${n}`, email, passwordHash, role: 'hand' },
      update: { passwordHash },
    });
    await db.sitePerson.createMany({
      data: [{ siteId, accountId: account.id, role: 'hand' }],
      skipDuplicates: true,
    });
    cookies.push((await signInOverHttp(url, { email, password })).cookie);
  }
  return Array.from({ length: tablets }, (_, n) => cookies[n % cookies.length] ?? '');
}

/** A round over the first twenty tanks of a site, and its racks in walking order. */
async function begunRound(bench: Bench): Promise<{ siteId: string; roundId: string; racks: Rack[] }> {
  const { pool } = bench.service;
  const { rows: tanks } = await pool.query<{ id: string; siteId: string }>(
    'SELECT tank.id, system.site_id AS "siteId" FROM tank JOIN system ON system.id = tank.system_id ORDER BY tank.id LIMIT 20',
  );
  const siteId = tanks[0]?.siteId ?? '';
  const tankIds = tanks.filter((tank) => tank.siteId === siteId).map(({ id }) => id);
  const plan = await planRound(bench, { siteId, tankId: tankIds[0] ?? '' }, { startsAt: '00:00', tankIds });
  const roundId = await begin(bench, { siteId }, plan, localDay(bench.service.now(), zone));
  const { rows: racks } = await pool.query<Rack>(
    `SELECT rack_id AS id, array_agg(DISTINCT lot_id::text) AS lots FROM lot_place WHERE tank_id = ANY($1) GROUP BY rack_id ORDER BY rack_id`,
    [tankIds],
  );
  return { siteId, roundId, racks };
}

const millis = (times: readonly number[]) => {
  const { median, p99 } = spread(times);
  return `${median.toFixed(0).padStart(6)} ${p99.toFixed(0).padStart(6)}`;
};

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const url = process.env.EVENWATER_BENCH_URL;
const database = await openDatabase({
  EVENWATER_DATA: folder,
  ...(url === undefined ? {} : { DATABASE_URL: url }),
});
try {
  say(
    `${cpus()[0]?.model ?? 'unknown processor'}, ${cpus().length} cores, the tablets on them too; load ${loadavg()[0]?.toFixed(1)}`,
  );
  if ((await database.pool.query('SELECT 1 FROM site LIMIT 1')).rows.length === 0) {
    await loadCare(database.pool);
    await fillFarm(database.pool, { systems: 40, lots: 10_000, years: 1 }, new Date());
  }
  const bench = await benchOn(database, { running: true });
  const address = await bench.app.listen({ host: '127.0.0.1', port: 0 });
  const { siteId, ...round } = await begunRound(bench);
  const cookies = await signedIn(bench, address, siteId);
  const used = await processorClock(database.pool);
  say(
    `${round.racks.length} racks, ${round.racks.reduce((sum, { lots }) => sum + lots.length, 0)} lots; median and p99, ms`,
  );
  const measure = async (walk: Walk) => {
    const [before, loop] = [await used(), monitorEventLoopDelay({ resolution: 5 })];
    loop.enable();
    const walked = await walkOn(walk);
    loop.disable();
    const after = await used();
    const database =
      after.database === null || before.database === null ? 0 : after.database - before.database;
    return { walked, loop: loop.percentile(99) / 1e6, node: after.node - before.node, database };
  };
  const walk = { url: address, ...round, cookies, every, seconds };
  const first = await measure({ ...walk, cookies: cookies.slice(0, 1), seconds: 0 });
  say(
    `one tablet fetches and keeps ${first.walked.kB.toFixed(0)} kB in ${first.walked.answers} answers, the largest ${first.walked.largest.toFixed(0)} kB, in ${first.walked.ms.toFixed(0)} ms; node ${first.node.toFixed(0)} ms, database ${first.database.toFixed(0)}`,
  );
  await measure({ ...walk, seconds: 0 });
  say(
    'tablets  taps  until held     until drawn    node, database a tap  answers a tap, largest kB  loop  refused',
  );
  const paces: [number, number][] = [
    [1, every],
    [tablets, every],
    [tablets, 0],
  ];
  for (const [count, pace] of paces) {
    const { walked, loop, ...used } = await measure({
      ...walk,
      cookies: cookies.slice(0, count),
      every: pace,
    });
    const taps = walked.held.length;
    say(
      `${String(count).padStart(7)} ${String(taps).padStart(5)}${millis(walked.held)}  ${millis(walked.drawn)}   ${millis([used.node / taps]).slice(0, 6)} ${millis([used.database / taps]).slice(0, 6)}             ${(walked.answers / taps).toFixed(1).padStart(6)} ${walked.largest.toFixed(0).padStart(6)}              ${loop.toFixed(0).padStart(4)}  ${String(walked.refused).padStart(4)}${pace === 0 ? '  (each taps as soon as its last is held)' : ''}`,
    );
  }
  await bench.app.close();
  await bench.service.jobs.stop();
} finally {
  await walkers.terminate();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

/**
 * Odd requests to every route and damaged files through every way in: `npm run bench:fuzz`, with how many requests
 * (20,000), how many files (2,000) and the seed of chance. Prints what took longest, beside a bare page at the same time.
 * Fails where anything is answered 5xx, is kept in part, or takes longer than two seconds of an idle machine, or where
 * fewer than half of the files are taken.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openDatabase } from '../../src/platform/database.ts';
import { makeHall } from '../rounds/hall.ts';
import { benchOn } from '../support/service.ts';
import { fuzzImporters } from './fuzz/importers.ts';
import { takenWords } from './fuzz/pace.ts';
import { fuzzRoutes } from './fuzz/routes.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const [requests = 20_000, files = 2000, seed = 71] = process.argv.slice(2).map(Number);
/** Two seconds, of a machine on which a bare page takes 8 ms. */
const longestTimes = 250;
/**
 * The whole farm is read in some 330 turns between service and database, one file after the other, and on a busy machine each
 * waits: it is held to two seconds of the processor (0.2 to 0.3 measured).
 */
const longestCpuMs = 2000;
const inManyTurns = new Set(['GET /export/farm.zip']);
const folder = await mkdtemp(join(tmpdir(), 'evenwater-fuzz-'));
const bench = await benchOn(await openDatabase({ EVENWATER_DATA: folder }), { watching: false });
try {
  const hall = await makeHall(bench);
  const ground = { bench, hall, visitor: await bench.as('owner', 'Ines Varga') };
  const took = (from: number) => `${((performance.now() - from) / 1000).toFixed(0)} s`;
  let from = performance.now();
  const brought = await fuzzImporters(ground, files, seed);
  say(`${files} files in ${took(from)}: ${brought.taken} taken, ${brought.faults.length} faults`);
  brought.pace.slowest(4).map(takenWords).forEach(say);
  from = performance.now();
  const asked = await fuzzRoutes(ground, requests, seed);
  say(
    `${requests} requests in ${took(from)}: ${asked.broken.length} broke; a bare page takes ${asked.pace.bareMs.toFixed(1)} ms`,
  );
  asked.pace.slowest(12).map(takenWords).forEach(say);
  const faults = [...brought.faults, ...asked.broken];
  faults.slice(0, 40).forEach(say);
  const all = [brought, asked].flatMap(({ pace }) => pace.slowest(Number.POSITIVE_INFINITY));
  const isSlow = all.some(({ what, times, cpuMs }) =>
    inManyTurns.has(what) ? cpuMs > longestCpuMs : times > longestTimes,
  );
  process.exitCode = faults.length > 0 || isSlow || brought.taken < files / 2 ? 1 : 0;
} finally {
  await bench.close();
  await rm(folder, { recursive: true, force: true });
}

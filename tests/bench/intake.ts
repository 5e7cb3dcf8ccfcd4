/**
 * How long a file of 50,000 rows (or as many as named) takes, and how long it holds the loop: `npm run bench:intake`. Prints figures,
 * asserts nothing.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { monitorEventLoopDelay } from 'node:perf_hooks';
import { setTimeout } from 'node:timers/promises';
import { pino } from 'pino';
import { loadCare } from '../../seed/care.ts';
import { loadFarmContext } from '../../src/intake/file/farm-context.ts';
import { saveUpload } from '../../src/intake/imports/imports.ts';
import { previewFile } from '../../src/intake/imports/preview.ts';
import { acceptImport, withdrawImport } from '../../src/intake/imports/reading-imports.ts';
import { change } from '../../src/platform/change.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startJobs } from '../../src/platform/jobs.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const now = new Date('2026-11-24T08:00:00Z');
const rows = Number(process.argv[2] ?? 50_000);

/** Six systems, tested for four quantities every three hours. */
function fileOf(count: number): Uint8Array<ArrayBuffer> {
  const tests: [string, string, number][] = [
    ['alkalinity', 'dKH', 8.3],
    ['calcium', 'mg/L', 420],
    ['magnesium', 'mg/L', 1320],
    ['nitrate', 'mg/L', 6],
  ];
  const lines = Array.from({ length: count }, (_, i) => {
    const [code, unit, middle] = tests[i % 4] ?? ['', '', 0];
    const at = new Date(now.getTime() - (1 + Math.floor(i / 24)) * 3 * 3_600_000).toISOString().slice(0, 16);
    const value = (middle * (1 + 0.02 * Math.sin(i / 50))).toFixed(2);
    return `${at},System ${1 + (Math.floor(i / 4) % 6)},${code},${value},${unit},row ${i}`;
  });
  return new TextEncoder().encode(['when,system,quantity,value,unit,note', ...lines].join('\r\n'));
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const database = await openDatabase({ EVENWATER_DATA: folder });
const jobs = await startJobs(database.url, database.pool, pino({ level: 'silent' }));
const { pool, db } = database;
const service = { db, pool, jobs, now: () => now };

async function timed<T>(what: string, work: () => Promise<T>): Promise<T> {
  const loop = monitorEventLoopDelay({ resolution: 1 });
  loop.enable();
  const from = performance.now();
  const result = await work();
  loop.disable();
  const ms = performance.now() - from;
  say(
    `${what.padEnd(28)} ${(ms / 1000).toFixed(1).padStart(6)} s   loop held for ${(loop.percentile(99.9) / 1e6).toFixed(0).padStart(4)} ms, at most ${(loop.max / 1e6).toFixed(0)}`,
  );
  return result;
}

try {
  await loadCare(pool);
  const site = await db.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
  const names = Array.from({ length: 6 }, (_, i) => `System ${i + 1}`);
  await db.system.createMany({ data: names.map((name) => ({ siteId: site.id, name, volumeL: 1000 })) });
  const known = await loadFarmContext(db, site, now);
  const content = fileOf(rows);
  say(`${cpus()[0]?.model ?? 'unknown processor'}; ${rows} rows, ${(content.length / 1e6).toFixed(1)} MB`);
  const act = <T>(work: Parameters<typeof change<T>>[2]) =>
    change(service, { accountId: null, ofAFile: true }, work);
  await timed('this machine, idle', () => setTimeout(3000));
  const { id } = await act((work) => saveUpload(work, site.id, { fileName: 'history.csv', content }));
  const preview = await timed('shown', () => previewFile(pool, known, content, {}));
  await timed('taken', () => act((work) => acceptImport(work, id, preview, {})));
  const again = await timed('shown again, all there', () => previewFile(pool, known, content, {}));
  say(`${again.lines.filter((line) => line.state === 'present').length} found there already`);
  await timed('taken back', () => act((work) => withdrawImport(work, id, 'benchmark')));
} finally {
  await jobs.stop();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

/**
 * How long a file of 2,000 lots (or as many as named) takes: shown, taken in, shown again and taken back, and how long it
 * holds the loop: `npm run bench:stock-file`. Prints figures, asserts nothing.
 */
import { mkdtemp, rm } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { loadCare } from '../../seed/care.ts';
import { findImport, saveAnswers, saveUpload } from '../../src/intake/imports/imports.ts';
import { loadStockContext } from '../../src/intake/lots/lot-context.ts';
import { readLotsAside } from '../../src/intake/lots/lot-file-reading.ts';
import { acceptLots, withdrawLots } from '../../src/intake/lots/lot-imports.ts';
import { change } from '../../src/platform/change.ts';
import { openDatabase } from '../../src/platform/database.ts';
import { startJobs } from '../../src/platform/jobs.ts';
import { findLots } from '../../src/stock/lots/search.ts';
import { watchLoop } from './loop.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const now = new Date('2026-11-24T08:00:00Z');
const count = Number(process.argv[2] ?? 2000);
/** Lots on a rack of 10 x 16 slots, one slot each. */
const perRack = 160;

const kinds = [
  'Goniastrea retiformis',
  'Favites pentagona',
  'Zoanthus sociatus',
  'Harbour Green',
  'Lantern Bay',
];

function fileOf(): Uint8Array<ArrayBuffer> {
  const lines = Array.from({ length: count }, (_, i) => {
    const slot = `${String.fromCharCode(65 + Math.floor((i % perRack) / 16))}${1 + (i % 16)}`;
    const mother = i % 10 === 0 ? '' : `K-${i - (i % 10)}`;
    return `K-${i},${kinds[i % kinds.length]},${1 + (i % 6)},R${1 + Math.floor(i / perRack)},${slot},${mother},30 mm,2026-${String(1 + (i % 9)).padStart(2, '0')}-11,Grown here,,12.50,row ${i}`;
  });
  const head = 'code,name,pieces,rack,slots,mother,size,received,origin,permit,price,note';
  return new TextEncoder().encode([head, ...lines].join('\r\n'));
}

const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
const database = await openDatabase({ EVENWATER_DATA: folder });
const jobs = await startJobs(database.url, database.pool, pino({ level: 'silent' }));
const { pool, db } = database;

async function timed<T>(what: string, work: () => Promise<T>): Promise<T> {
  const loop = watchLoop();
  const from = performance.now();
  const result = await work();
  loop.stop();
  const seconds = ((performance.now() - from) / 1000).toFixed(2).padStart(7);
  say(`${what.padEnd(28)} ${seconds} s   loop held at most ${loop.longestMs().toFixed(0)} ms`);
  return result;
}

async function makeRacks(siteId: string): Promise<void> {
  const system = await db.system.create({ data: { siteId, name: 'Quiet water', volumeL: 12_000 } });
  const tank = await db.tank.create({
    data: { systemId: system.id, name: 'Long tank', lengthMm: 2400, widthMm: 600, heightMm: 400 },
  });
  for (let i = 1; i <= Math.ceil(count / perRack); i += 1) {
    const rack = await db.rack.create({
      data: { tankId: tank.id, name: `R${i}`, rows: 10, columns: 16, depthMm: 150 },
    });
    const cells = Array.from({ length: perRack }, (_, k) => ({
      row: 1 + Math.floor(k / 16),
      column: 1 + (k % 16),
    }));
    await db.slot.createMany({ data: cells.map((cell) => ({ rackId: rack.id, ...cell })) });
  }
}

try {
  await loadCare(pool);
  const site = await db.site.create({
    data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon', currency: 'EUR' },
  });
  await makeRacks(site.id);
  const content = fileOf();
  say(`${cpus()[0]?.model ?? 'unknown processor'}; ${count} lots, ${(content.length / 1e3).toFixed(0)} kB`);
  const service = { db, pool, jobs, now: () => now };
  const act = <T>(work: Parameters<typeof change<T>>[2]) =>
    change(service, { accountId: null, ofAFile: true }, work);
  const answers = {
    since: 'received',
    'kind-harbour~20green': 'Favites pentagona',
    'kind-lantern~20bay': 'Zoanthus sociatus',
  };
  const read = async () => readLotsAside(await loadStockContext(pool, site, now), content, answers);
  const { id } = await act((work) => saveUpload(work, site.id, { fileName: 'stock.csv', content }, 'lots'));
  await act((work) => saveAnswers(work, id, answers, 'lots'));
  const { answers: kept } = await findImport(db, id, 'lots');
  const preview = await timed('shown', read);
  const { taken } = await timed('taken in', () => act((work) => acceptLots(work, site, id, preview, kept)));
  say(`${taken} lots taken in`);
  const again = await timed('shown again, all here', read);
  say(`${again.lines.filter(({ state }) => state === 'present').length} rows found here already`);
  await timed('one own code found', () => findLots(pool, { siteId: site.id, text: `K-${count - 1}` }, now));
  await timed('taken back', () => act((work) => withdrawLots(work, id, 'benchmark')));
} finally {
  await jobs.stop();
  await database.close();
  await rm(folder, { recursive: true, force: true });
}

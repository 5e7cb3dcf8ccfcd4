/**
 * How long the demo farm, and one of 200 systems, 50,000 lots and three years of daily tests, takes to go out as one file
 * and to come into another installation, and with how much memory: `npm run bench:exports`. Prints figures, asserts nothing.
 */

import { createWriteStream } from 'node:fs';
import { mkdtemp, rm, stat } from 'node:fs/promises';
import { cpus, tmpdir } from 'node:os';
import { join } from 'node:path';
import pg from 'pg';
import { loadCare } from '../../seed/care.ts';
import { growDemo } from '../../seed/demo/grow.ts';
import { bringInFarm } from '../../src/exports/farm/bring-in.ts';
import { rowsOf } from '../../src/exports/farm/manifest.schema.ts';
import { writeFarm } from '../../src/exports/farm/writer.ts';
import { onConnection } from '../../src/platform/database/connection.ts';
import { migrate } from '../../src/platform/database/migrations.ts';
import { type Database, openDatabase } from '../../src/platform/database.ts';
import { fillFarm } from './farm/fill.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const now = new Date('2026-11-24T08:00:00Z');
const megabytes = (bytes: number) => (bytes / 1e6).toFixed(0).padStart(6);

async function timed<T>(what: string, work: () => Promise<T>): Promise<T> {
  global.gc?.();
  const before = process.memoryUsage().rss;
  let most = before;
  const sampling = setInterval(() => {
    most = Math.max(most, process.memoryUsage().rss);
  }, 20);
  const from = performance.now();
  const result = await work().finally(() => clearInterval(sampling));
  const seconds = ((performance.now() - from) / 1000).toFixed(1).padStart(7);
  say(`  ${what.padEnd(34)} ${seconds} s   ${megabytes(most - before)} MB more than before`);
  return result;
}

/** An installation of this version that holds no farm. */
async function emptyBeside({ url }: Database): Promise<string> {
  const beside = new URL(url);
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  await client.query('CREATE DATABASE other').finally(() => client.end());
  beside.pathname = '/other';
  await migrate(beside.href);
  return beside.href;
}

async function measure(what: string, fill: (pool: pg.Pool) => Promise<unknown>): Promise<void> {
  const folder = await mkdtemp(join(tmpdir(), 'evenwater-bench-'));
  const database = await openDatabase({ EVENWATER_DATA: folder });
  try {
    await loadCare(database.pool);
    await fill(database.pool);
    const path = join(folder, 'farm.zip');
    say(`\n${what}`);
    const manifest = await timed('out', () =>
      onConnection(database.url, (client) =>
        writeFarm(client, createWriteStream(path), { now, tagKeys: [] }),
      ),
    );
    const open = manifest.files.reduce((sum, { bytes }) => sum + bytes, 0);
    say(
      `  ${rowsOf(manifest)} rows; ${megabytes((await stat(path)).size)} MB, unpacked ${megabytes(open)} MB`,
    );
    const other = await emptyBeside(database);
    await timed('checked and brought in', () => bringInFarm(other, path, folder, now));
  } finally {
    await database.close();
    await rm(folder, { recursive: true, force: true });
  }
}

say(`${cpus()[0]?.model}, ${cpus().length} cores`);
await measure('The demo farm', (pool) => growDemo(pool, { seed: 7, now }));
if (process.argv[2] !== 'demo')
  await measure('200 systems, 50,000 lots, three years of seven tests a day', (pool) =>
    fillFarm(pool, { systems: 200, lots: 50_000, years: 3 }, now),
  );

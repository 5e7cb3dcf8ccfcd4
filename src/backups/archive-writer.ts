import { createHash } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import type pg from 'pg';
import { to as copyTo } from 'pg-copy-streams';
import { type Pack, pack } from 'tar-stream';
import {
  type ArchivedTable,
  archiveFormat,
  contentsName,
  type Head,
  headName,
  readMeName,
  tablePart,
} from './archive.schema.ts';
import { copyOut, migrationsOf, plainSession, type Table, tablesOf } from './contents.ts';
import { encrypting } from './encryption.ts';

/** Bytes of rows held before they are written: bounds the memory, however large a table is. */
const partBytes = 4 * 1024 * 1024;

const readMe = `A backup of a farm's whole Evenwater database.
Bring it back into an empty database with: npm run restore -- THIS-FILE
Each table's rows are in PostgreSQL's text format for COPY, in parts; contents.json says how many rows there are and
their SHA-256. It holds everything, the keys that sign the farm's tags included: keep it as you keep the farm's keys.
`;

async function addEntry(tar: Pack, name: string, content: Buffer): Promise<void> {
  const entry = tar.entry({ name, size: content.length, mode: 0o600 });
  await new Promise<void>((done, failed) => {
    entry.once('finish', () => done());
    entry.once('error', failed);
    entry.end(content);
  });
}

async function addTable(client: pg.ClientBase, tar: Pack, table: Table): Promise<ArchivedTable> {
  const hash = createHash('sha256');
  const rows = client.query(copyTo(copyOut(table)));
  let held: Buffer[] = [];
  let heldBytes = 0;
  let bytes = 0;
  let part = 0;
  const flush = async () => {
    if (heldBytes === 0) return;
    await addEntry(tar, tablePart(table.name, ++part), Buffer.concat(held));
    held = [];
    heldBytes = 0;
  };
  for await (const chunk of rows as AsyncIterable<Buffer>) {
    hash.update(chunk);
    held.push(chunk);
    heldBytes += chunk.length;
    bytes += chunk.length;
    if (heldBytes >= partBytes) await flush();
  }
  await flush();
  return { ...table, rows: rows.rowCount, bytes, sha256: hash.digest('hex') };
}

async function headOf(client: pg.ClientBase, now: Date): Promise<Head> {
  const { rows } = await client.query<{ name: string }>('SELECT name FROM site ORDER BY created_at');
  return {
    format: archiveFormat,
    madeAt: now.toISOString(),
    farm: rows.map(({ name }) => name).join(', '),
    migrations: await migrationsOf(client),
  };
}

async function fill(client: pg.ClientBase, tar: Pack, now: Date): Promise<ArchivedTable[]> {
  await client.query(plainSession);
  // One snapshot for all tables: what is entered meanwhile is in all of them or in none.
  await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
  try {
    await addEntry(tar, headName, Buffer.from(JSON.stringify(await headOf(client, now), null, 1)));
    await addEntry(tar, readMeName, Buffer.from(readMe));
    const tables: ArchivedTable[] = [];
    for (const table of await tablesOf(client)) tables.push(await addTable(client, tar, table));
    await addEntry(tar, contentsName, Buffer.from(JSON.stringify({ tables }, null, 1)));
    return tables;
  } finally {
    await client.query('ROLLBACK');
  }
}

/**
 * Writes the whole database as one archive (tar, gzip; encrypted where a recipient is named) while it is in use.
 * @param client a connection of its own, which does nothing else meanwhile
 * @param recipient an age recipient (age1...), or null for an archive in the clear
 * @returns what it holds
 */
export async function writeArchive(
  client: pg.ClientBase,
  path: string,
  { now, recipient }: { now: Date; recipient: string | null },
): Promise<ArchivedTable[]> {
  const tar = pack();
  const out = createWriteStream(path, { mode: 0o600, flush: true });
  const written = pipeline(Readable.from(tar), createGzip(), encrypting(recipient), out);
  const filled = fill(client, tar, now).then(
    (tables) => {
      tar.finalize();
      return tables;
    },
    (error: Error) => {
      tar.destroy(error);
      throw error;
    },
  );
  const [tables] = await Promise.all([filled, written]);
  return tables;
}

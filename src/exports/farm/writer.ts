import { createHash } from 'node:crypto';
import { Readable, type Writable } from 'node:stream';
import { finished, pipeline } from 'node:stream/promises';
import type pg from 'pg';
import { to as copyTo } from 'pg-copy-streams';
import { ZipFile } from 'yazl';
import { migrationsOf, plainSession } from '../../backups/contents.ts';
import {
  dataName,
  farmFormat,
  type Manifest,
  manifestName,
  readMeName,
  sheetName,
} from './manifest.schema.ts';
import { readMe } from './read-me.ts';
import {
  type Binary,
  type FarmTable,
  farmTables,
  filesOut,
  linesOut,
  type Moment,
  sheetOut,
} from './tables.ts';

/** Packs one file after the other, so that only pieces of one are in memory, and notes what each is. */
class Packer {
  readonly files: Manifest['files'] = [];
  readonly #zip = new ZipFile();
  readonly #mtime: Date;
  readonly #sent: Promise<void>;
  #current: Readable | null = null;

  constructor(out: Writable, mtime: Date) {
    this.#mtime = mtime;
    const packed = this.#zip.outputStream as Readable;
    // A file that cannot be read to its end ends the whole: what was sent so far is no archive.
    this.#zip.on('error', (error: Error) => packed.destroy(error));
    this.#sent = pipeline(packed, out);
    // Whoever takes it may go away: the file under way then ends as well.
    this.#sent.catch((error: Error) => this.#current?.destroy(error));
  }

  async add(name: string, content: AsyncIterable<Buffer> | Iterable<Buffer>, compress = true): Promise<void> {
    const hash = createHash('sha256');
    let bytes = 0;
    const counted = Readable.from(
      (async function* () {
        for await (const chunk of content) {
          hash.update(chunk);
          bytes += chunk.length;
          yield chunk;
        }
      })(),
    );
    this.#current = counted;
    this.#zip.addReadStream(counted, name, { mtime: this.#mtime, mode: 0o100600, compress });
    await Promise.race([finished(counted, { writable: false }), this.#sent]);
    this.files.push({ name, bytes, sha256: hash.digest('hex') });
  }

  async end(): Promise<void> {
    this.#zip.end();
    await this.#sent;
  }
}

async function* filesOf(
  client: pg.ClientBase,
  table: FarmTable,
  binary: Binary,
): AsyncGenerator<{ name: string; content: Buffer }> {
  for (let after: string | null = null; ; ) {
    const found: pg.QueryResult<{ id: string; name: string; content: Buffer }> = await client.query(
      filesOut(table, binary),
      [after],
    );
    yield* found.rows;
    after = found.rows.at(-1)?.id ?? null;
    if (after === null) return;
  }
}

async function addTable(
  client: pg.ClientBase,
  packer: Packer,
  table: FarmTable,
  moment: Moment,
): Promise<{ name: string; rows: number }> {
  const lines = client.query(copyTo(linesOut(table, moment)));
  await packer.add(dataName(table.name), lines as AsyncIterable<Buffer>);
  const sheet = client.query(copyTo(sheetOut(table, moment)));
  await packer.add(sheetName(table.name), sheet as AsyncIterable<Buffer>);
  for (const binary of table.binaries)
    for await (const { name, content } of filesOf(client, table, binary))
      await packer.add(name, [content], false);
  return { name: table.name, rows: lines.rowCount };
}

/**
 * Writes the whole farm as one ZIP while it is in use: each table as JSON lines and as CSV, photos and files as they are,
 * last a manifest that names them all. It is of one moment, and no secret is in it.
 * @param client a connection of its own, which does nothing else meanwhile
 * @param tagKeys public keys of this installation that signed a tag
 */
export async function writeFarm(
  client: pg.ClientBase,
  out: Writable,
  { now, tagKeys }: { now: Date; tagKeys: readonly string[] },
): Promise<Manifest> {
  const moment = { at: now.toISOString(), tagKeys };
  const packer = new Packer(out, now);
  await client.query(plainSession);
  await client.query('BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY');
  const { rows: sites } = await client.query<Manifest['sites'][number]>(
    'SELECT name, time_zone AS "timeZone" FROM site ORDER BY created_at, id',
  );
  const migrations = await migrationsOf(client);
  await packer.add(readMeName, [Buffer.from(readMe(sites, now))]);
  const tables: Manifest['tables'] = [];
  for (const table of await farmTables(client)) tables.push(await addTable(client, packer, table, moment));
  await client.query('ROLLBACK');
  const { files } = packer;
  const manifest: Manifest = {
    ...{ service: 'Evenwater', holds: 'farm', format: farmFormat, madeAt: moment.at },
    ...{ sites, migrations, tables, files: [...files] },
  };
  await packer.add(manifestName, [Buffer.from(JSON.stringify(manifest, null, 1))]);
  await packer.end();
  return manifest;
}

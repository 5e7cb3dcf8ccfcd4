import { once } from 'node:events';
import type { Readable } from 'node:stream';
import { finished } from 'node:stream/promises';
import type pg from 'pg';
import { type CopyStreamQuery, from as copyFrom } from 'pg-copy-streams';
import type { Contents } from './archive.schema.ts';
import { ArchiveFault, type ArchiveFile, RowCheck, readArchive } from './archive-reader.ts';
import { hashOfRows } from './compare.ts';
import { copyIn, leftOut, plainSession, type Table, tablesOf } from './contents.ts';

interface ForeignKey {
  table: string;
  name: string;
  definition: string;
}

/** Keys between tables are set aside while the rows come in, and made again after: some point in circles. */
async function setKeysAside(client: pg.ClientBase): Promise<ForeignKey[]> {
  const { rows } = await client.query<ForeignKey>(
    `SELECT conrelid::regclass::text AS table, quote_ident(conname) AS name, pg_get_constraintdef(oid) AS definition
       FROM pg_constraint WHERE contype = 'f' AND connamespace = 'public'::regnamespace`,
  );
  for (const { table, name } of rows) await client.query(`ALTER TABLE ${table} DROP CONSTRAINT ${name}`);
  return rows;
}

async function makeKeysAgain(client: pg.ClientBase, keys: readonly ForeignKey[]): Promise<void> {
  for (const { table, name, definition } of keys)
    await client.query(`ALTER TABLE ${table} ADD CONSTRAINT ${name} ${definition}`);
}

/** The tables that are not in an archive, as far as this version has them: they begin empty. */
async function passingTables(client: pg.ClientBase): Promise<string[]> {
  const { rows } = await client.query<{ name: string }>(
    "SELECT relname AS name FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname = ANY ($1) AND relname <> '_prisma_migrations'",
    [leftOut],
  );
  return rows.map(({ name }) => name);
}

/** Triggers would write journal lines and marks anew, which came with the rows. */
async function setTriggers(
  client: pg.ClientBase,
  tables: readonly string[],
  to: 'ENABLE' | 'DISABLE',
): Promise<void> {
  for (const name of tables) await client.query(`ALTER TABLE public."${name}" ${to} TRIGGER USER`);
}

async function setCounters(client: pg.ClientBase): Promise<void> {
  const { rows } = await client.query<{ table: string; column: string; sequence: string }>(
    `SELECT a.attrelid::regclass::text AS table, quote_ident(a.attname) AS column,
            pg_get_serial_sequence(a.attrelid::regclass::text, a.attname) AS sequence
       FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid AND c.relkind = 'r'
      WHERE c.relnamespace = 'public'::regnamespace AND a.attnum > 0 AND NOT a.attisdropped
        AND pg_get_serial_sequence(a.attrelid::regclass::text, a.attname) IS NOT NULL`,
  );
  for (const { table, column, sequence } of rows)
    await client.query(`SELECT setval($1, coalesce(max(${column}), 0) + 1, false) FROM ${table}`, [sequence]);
}

/** Takes the rows of one table after the other, each through one COPY, however many parts they come in. */
class Loader {
  readonly #client: pg.ClientBase;
  readonly #tables: ReadonlyMap<string, Table>;
  readonly #check = new RowCheck();
  #open: { table: string; into: CopyStreamQuery } | null = null;

  constructor(client: pg.ClientBase, tables: readonly Table[]) {
    this.#client = client;
    this.#tables = new Map(tables.map((table) => [table.name, table]));
  }

  async take(name: string, bytes: Readable): Promise<void> {
    if (this.#open?.table !== name) {
      await this.#finish();
      const table = this.#tables.get(name);
      if (table === undefined)
        throw new ArchiveFault(
          `The file holds a table ${name} that does not belong to the version it names.`,
        );
      this.#open = { table: name, into: this.#client.query(copyFrom(copyIn(table))) };
    }
    const { into } = this.#open;
    for await (const chunk of bytes as AsyncIterable<Buffer>) {
      this.#check.add(name, chunk);
      if (!into.write(chunk)) await Promise.race([once(into, 'drain'), finished(into)]);
    }
  }

  async #finish(): Promise<void> {
    if (this.#open === null) return;
    const { into } = this.#open;
    this.#open = null;
    into.end();
    await finished(into);
  }

  async end(contents: Contents): Promise<void> {
    await this.#finish();
    this.#check.end(contents);
  }
}

/** @throws ArchiveFault when what is in the tables now differs from what the archive said */
async function compareLoaded(client: pg.ClientBase, { tables }: Contents): Promise<void> {
  for (const table of tables) {
    if ((await hashOfRows(client, table)).sha256 !== table.sha256)
      throw new ArchiveFault(
        `The rows of ${table.name} came out otherwise than they were written. Nothing was kept.`,
      );
  }
}

/**
 * Loads an archive into a database of its own version that holds no farm, in one transaction: all of it or nothing.
 * Every table is read back and compared before it is kept.
 * @returns what was loaded
 * @throws ArchiveFault
 */
export async function load(client: pg.ClientBase, file: ArchiveFile): Promise<Contents> {
  await client.query(plainSession);
  await client.query('BEGIN');
  try {
    const tables = await tablesOf(client);
    const names = tables.map(({ name }) => name);
    const every = [...names, ...(await passingTables(client))];
    const keys = await setKeysAside(client);
    await setTriggers(client, every, 'DISABLE');
    await client.query(`TRUNCATE ${every.map((name) => `public."${name}"`).join(', ')}`);
    const loader = new Loader(client, tables);
    const contents = await readArchive(file, {
      head: async () => undefined,
      rows: (table, bytes) => loader.take(table, bytes),
    });
    await loader.end(contents);
    await makeKeysAgain(client, keys);
    await setTriggers(client, every, 'ENABLE');
    await setCounters(client);
    await compareLoaded(client, contents);
    await client.query('COMMIT');
    return contents;
  } catch (error) {
    // The connection may be in the middle of a COPY: closing it takes everything back.
    (client as unknown as { end(): Promise<void> }).end().catch(() => undefined);
    throw error;
  }
}

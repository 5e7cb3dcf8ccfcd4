import { once } from 'node:events';
import type { Readable } from 'node:stream';
import { finished } from 'node:stream/promises';
import type pg from 'pg';
import { type CopyStreamQuery, from as copyFrom } from 'pg-copy-streams';
import type { Contents } from './archive.schema.ts';
import { ArchiveFault, type ArchiveFile, RowCheck, readArchive } from './archive-reader.ts';
import { hashOfRows } from './compare.ts';
import { copyIn, leftOut, plainSession, type Table, tablesOf } from './contents.ts';
import { withRulesAside } from './rules-aside.ts';

/** The tables that are not in an archive, as far as this version has them: they begin empty. */
async function passingTables(client: pg.ClientBase): Promise<string[]> {
  const { rows } = await client.query<{ name: string }>(
    "SELECT relname AS name FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname = ANY ($1) AND relname <> '_prisma_migrations'",
    [leftOut],
  );
  return rows.map(({ name }) => name);
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
    const contents = await withRulesAside(client, every, async () => {
      await client.query(`TRUNCATE ${every.map((name) => `public."${name}"`).join(', ')}`);
      const loader = new Loader(client, tables);
      const held = await readArchive(file, {
        head: async () => undefined,
        rows: (table, bytes) => loader.take(table, bytes),
      });
      await loader.end(held);
      return held;
    });
    await compareLoaded(client, contents);
    await client.query('COMMIT');
    return contents;
  } catch (error) {
    // The connection may be in the middle of a COPY: closing it takes everything back.
    (client as unknown as { end(): Promise<void> }).end().catch(() => undefined);
    throw error;
  }
}

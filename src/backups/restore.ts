import { setTimeout as wait } from 'node:timers/promises';
import type pg from 'pg';
import { onConnection } from '../platform/database/connection.ts';
import { migrate, migrationNames } from '../platform/database/migrations.ts';
import { gatherStatistics } from '../platform/database/statistics.ts';
import type { Contents, Head } from './archive.schema.ts';
import { ArchiveFault, type ArchiveFile, checkArchive } from './archive-reader.ts';
import { migrationsOf } from './contents.ts';
import { load } from './load.ts';

/** What a restore did. */
export interface Restored {
  head: Head;
  contents: Contents;
}

/** What is in a database: nothing of ours, an empty service, or somebody's farm. */
async function stateOf(client: pg.Client): Promise<'bare' | 'empty' | 'farm'> {
  const { rows } = await client.query(
    `SELECT (SELECT count(*) FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r')::int AS tables,
            to_regclass('public.account') IS NOT NULL AS ours`,
  );
  if (rows[0].tables === 0) return 'bare';
  if (!rows[0].ours) {
    const { rows: others } = await client.query(
      `SELECT 1 FROM pg_class WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND relname <> '_prisma_migrations' LIMIT 1`,
    );
    return others.length > 0 ? 'farm' : 'empty';
  }
  const { rows: found } = await client.query(
    'SELECT EXISTS (SELECT FROM account) OR EXISTS (SELECT FROM site) AS farm',
  );
  return found[0].farm ? 'farm' : 'empty';
}

/** How long others may take to leave: as long as PostgreSQL waits before it renames a database (5 s in steps of 100 ms). */
const leaving = { steps: 50, stepMs: 100 };

/** A connection that was just closed is listed for a moment yet. @throws ArchiveFault where others stay connected */
async function checkUnused(client: pg.Client): Promise<void> {
  for (let step = 0; ; step++) {
    const { rows } = await client.query(
      'SELECT count(*)::int AS n FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid() AND backend_type = $1',
      ['client backend'],
    );
    if (rows[0].n === 0) return;
    if (step === leaving.steps)
      throw new ArchiveFault(
        'The database is in use. Stop the service (and whatever else is connected), then restore.',
      );
    await wait(leaving.stepMs);
  }
}

/** @throws ArchiveFault where the archive names a migration that this version does not know */
async function checkKnown({ migrations }: Head): Promise<void> {
  const known = new Set(await migrationNames());
  if (!migrations.every((name) => known.has(name)))
    throw new ArchiveFault(
      'This backup was made by a newer Evenwater. Bring the service to that version first.',
    );
}

/** Makes the tables of the archive's version, and no newer ones. */
async function makeTables(url: string, { migrations }: Head): Promise<void> {
  await onConnection(url, async (client) => {
    const state = await stateOf(client);
    if (state === 'bare') return;
    const there = await client.query("SELECT to_regclass('public._prisma_migrations') IS NOT NULL AS yes");
    const made = there.rows[0].yes ? await migrationsOf(client) : [];
    if (made.join() === migrations.join()) return;
    // It holds no farm: it is made anew rather than taken back step by step.
    await client.query(
      'DROP SCHEMA IF EXISTS pgboss CASCADE; DROP SCHEMA public CASCADE; CREATE SCHEMA public',
    );
  });
  await migrate(url, migrations);
}

/**
 * Brings an archive back into a database that holds no farm, then to this version. The archive is read through and
 * checked first. Killed half-way it leaves an empty database, into which the same can be done again.
 * @throws ArchiveFault when the archive cannot be used, or the database holds a farm or is in use
 */
export async function restoreInto(url: string, file: ArchiveFile): Promise<Restored> {
  const { head } = await checkArchive(file);
  await checkKnown(head);
  await onConnection(url, async (client) => {
    if ((await stateOf(client)) === 'farm')
      throw new ArchiveFault(
        'This database holds a farm already. Restore into an empty one, or say --replace: the farm that is there is then kept under another name.',
      );
    await checkUnused(client);
  });
  await makeTables(url, head);
  const contents = await onConnection(url, (client) => load(client, file));
  await migrate(url);
  await onConnection(url, gatherStatistics);
  return { head, contents };
}

const nameOf = (url: string) => decodeURIComponent(new URL(url).pathname.slice(1));

function withName(url: string, name: string): string {
  const other = new URL(url);
  other.pathname = `/${name}`;
  return other.href;
}

/** Works on a new database beside the given one, on the same server. It is dropped when `work` fails, or is to be. */
export async function besideIt<T>(
  url: string,
  suffix: string,
  work: (freshUrl: string, name: string) => Promise<T>,
  { keep = false }: { keep?: boolean } = {},
): Promise<T> {
  const name = `${nameOf(url)}_${suffix}`;
  const onServer = (sql: string) =>
    onConnection(withName(url, 'postgres'), async (client) => {
      await client.query(sql);
    });
  await onServer(`CREATE DATABASE "${name}"`);
  let kept = false;
  try {
    const result = await work(withName(url, name), name);
    kept = keep;
    return result;
  } finally {
    if (!kept) await onServer(`DROP DATABASE IF EXISTS "${name}" WITH (FORCE)`);
  }
}

/**
 * Restores beside the farm that is there, then lets the two change names in one step: the old one is kept.
 * @param stamp tells the databases' names apart
 * @returns the name under which the farm that was there is kept
 * @throws ArchiveFault; the farm that is there then stays as it is
 */
export async function restoreInPlaceOf(
  url: string,
  file: ArchiveFile,
  stamp: string,
): Promise<Restored & { before: string }> {
  await onConnection(url, checkUnused);
  const name = nameOf(url);
  const before = `${name}_before_${stamp}`;
  return besideIt(
    url,
    `restored_${stamp}`,
    async (freshUrl, fresh) => {
      const restored = await restoreInto(freshUrl, file);
      await onConnection(withName(url, 'postgres'), async (client) => {
        await client.query('BEGIN');
        await client.query(`ALTER DATABASE "${name}" RENAME TO "${before}"`);
        await client.query(`ALTER DATABASE "${fresh}" RENAME TO "${name}"`);
        await client.query('COMMIT');
      });
      return { ...restored, before };
    },
    { keep: true },
  );
}

import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type pg from 'pg';
import { onConnection } from './connection.ts';
import { appliedMark, scriptLock, withSchemaEngine } from './engine.ts';

const prismaDir = fileURLToPath(new URL('../../../prisma', import.meta.url));
const migrationsDir = join(prismaDir, 'migrations');

/** Any number, the same in every instance: whoever holds it migrates, the others wait. */
const migrationLock = 7_402_711;

/** The names of all migrations, in order. */
export async function migrationNames(): Promise<string[]> {
  const entries = await readdir(migrationsDir, { withFileTypes: true });
  return entries
    .filter((entry) => entry.isDirectory())
    .map((entry) => entry.name)
    .sort();
}

async function migrationDirectories(names: readonly string[]) {
  return Promise.all(
    names.map(async (path) => ({
      path,
      migrationFile: {
        path: 'migration.sql',
        content: { tag: 'ok', value: await readFile(join(migrationsDir, path, 'migration.sql'), 'utf8') },
      },
    })),
  );
}

/** The migrations as the schema engine wants them. */
async function migrationsList(names: readonly string[]) {
  return {
    baseDir: migrationsDir,
    lockfile: { path: 'migration_lock.toml', content: 'provider = "postgresql"\n' },
    shadowDbInitScript: '',
    migrationDirectories: await migrationDirectories(names),
  };
}

/** The Prisma schema's text. */
export function schemaText(): Promise<string> {
  return readFile(join(prismaDir, 'schema.prisma'), 'utf8');
}

/**
 * Mends what a process that was killed while it migrated left: a migration that was begun and not finished either came
 * to its end, which it wrote itself, or left nothing behind and runs again. One that the server still works on is waited for.
 */
async function mendInterrupted(client: pg.Client): Promise<void> {
  await client.query('SELECT pg_advisory_lock($1)', [scriptLock]);
  await client.query('SELECT pg_advisory_unlock($1)', [scriptLock]);
  await client.query(
    'UPDATE _prisma_migrations SET finished_at = now(), logs = NULL WHERE finished_at IS NULL AND rolled_back_at IS NULL AND logs = $1',
    [appliedMark],
  );
  await client.query(
    'DELETE FROM _prisma_migrations WHERE finished_at IS NULL AND rolled_back_at IS NULL AND logs IS NULL',
  );
}

async function pending(client: pg.Client, names: readonly string[]): Promise<boolean> {
  const table = await client.query("SELECT to_regclass('_prisma_migrations') AS name");
  if (table.rows[0].name === null) return true;
  await mendInterrupted(client);
  const done = await client.query(
    'SELECT migration_name FROM _prisma_migrations WHERE finished_at IS NOT NULL AND rolled_back_at IS NULL',
  );
  const applied = new Set(done.rows.map((row) => row.migration_name as string));
  return names.some((name) => !applied.has(name));
}

/**
 * Brings the database to the newest migration. Several instances may start at once: an advisory lock lets one
 * migrate while the others wait. The engine is opened only when something is to be applied.
 * @param upTo the migrations of an older version, where it is to come to that one only
 * @returns the names of the migrations applied now
 */
export async function migrate(connectionString: string, upTo?: readonly string[]): Promise<string[]> {
  const names = upTo ?? (await migrationNames());
  return onConnection(connectionString, async (client) => {
    await client.query('SELECT pg_advisory_lock($1)', [migrationLock]);
    if (!(await pending(client, names))) return [];
    const input = {
      migrationsList: await migrationsList(names),
      filters: { externalTables: [], externalEnums: [] },
    };
    const applied = await withSchemaEngine(connectionString, await schemaText(), (engine) =>
      engine.applyMigrations(input),
    );
    return applied.appliedMigrationNames;
  });
}

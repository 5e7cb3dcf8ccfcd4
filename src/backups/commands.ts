// npm run backup [-- FILE]            writes a backup of the farm, also while the service runs
// npm run restore -- FILE [--identity FILE] [--replace]     brings one back into an empty database
import { randomUUID } from 'node:crypto';
import { readFile, rename, rm } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { type Config, readConfig } from '../platform/config.ts';
import { onConnection } from '../platform/database/connection.ts';
import { folderHolder } from '../platform/database/folder-lock.ts';
import { onDatabase, openServer } from '../platform/database.ts';
import type { ArchivedTable } from './archive.schema.ts';
import { writeArchive } from './archive-writer.ts';
import { type Restored, restoreInPlaceOf, restoreInto } from './restore.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const stampOf = (now: Date) => now.toISOString().replace(/[-:]/g, '').slice(0, 15);

async function backup(config: Config, [given]: string[]): Promise<void> {
  const now = new Date();
  const recipient = config.BACKUP_RECIPIENT ?? null;
  const path = resolve(given ?? `evenwater-${stampOf(now)}Z.tar.gz${recipient === null ? '' : '.age'}`);
  const part = join(dirname(path), `.${randomUUID()}.part`);
  try {
    const tables = await onDatabase(config, say, (url) =>
      onConnection(url, (client) => writeArchive(client, part, { now, recipient })),
    );
    await rename(part, path);
    sayWritten(path, tables, recipient !== null);
  } finally {
    await rm(part, { force: true });
  }
}

function sayWritten(path: string, tables: readonly ArchivedTable[], isEncrypted: boolean): void {
  const rows = tables.reduce((sum, table) => sum + table.rows, 0);
  say(`Written: ${path} (${tables.length} tables, ${rows} rows${isEncrypted ? ', encrypted' : ''}).`);
  say('It is not proven: restore it somewhere to be sure of it. Those of the nights are.');
}

async function identityIn(path: string): Promise<string> {
  const key = (await readFile(path, 'utf8')).split('\n').find((line) => line.startsWith('AGE-SECRET-KEY-'));
  if (key === undefined)
    throw new Error(`${path} holds no age identity (a line that begins with AGE-SECRET-KEY-).`);
  return key.trim();
}

async function restore(
  config: Config,
  [path]: string[],
  { identity, replace }: { identity?: string | undefined; replace?: boolean | undefined },
): Promise<void> {
  if (path === undefined) throw new Error('Name the file: npm run restore -- FILE');
  const file = {
    path: resolve(path),
    identity: identity === undefined ? undefined : await identityIn(identity),
  };
  // A server that a killed process left behind is nobody's: it is taken over.
  if (
    config.DATABASE_URL === undefined &&
    (await folderHolder(join(config.EVENWATER_DATA, 'database'))) !== null
  )
    throw new Error('The service is running. Stop it, then restore.');
  const work = async (url: string): Promise<Restored & { before: string | null }> =>
    replace
      ? restoreInPlaceOf(url, file, stampOf(new Date()).toLowerCase())
      : { ...(await restoreInto(url, file)), before: null };
  const { head, contents, before } = await onBareServer(config, work);
  const rows = contents.tables.reduce((sum, table) => sum + table.rows, 0);
  say(
    `Restored ${head.farm} as of ${head.madeAt}: ${contents.tables.length} tables, ${rows} rows, each compared.`,
  );
  if (before !== null) say(`The farm that was there is kept as the database ${before}.`);
}

/** The server without the service's own start on it, which would connect to the database. */
async function onBareServer<T>(config: Config, work: (url: string) => Promise<T>): Promise<T> {
  if (config.DATABASE_URL !== undefined) return work(config.DATABASE_URL);
  const server = await openServer(config, say);
  return work(server.url).finally(() => server.stop());
}

try {
  const [command, ...args] = process.argv.slice(2);
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: { identity: { type: 'string' }, replace: { type: 'boolean' } },
  });
  const config = readConfig({ LOG_LEVEL: 'warn', ...process.env });
  if (command === 'backup') await backup(config, positionals);
  else await restore(config, positionals, values);
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}

// npm run export -- FILE          writes the whole farm as one ZIP, also while the service runs
// npm run import-farm -- FILE     brings one into an installation that holds no farm yet

import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { rename, rm } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { type Config, readConfig } from '../../platform/config.ts';
import { onConnection } from '../../platform/database/connection.ts';
import { migrate } from '../../platform/database/migrations.ts';
import { connect, onDatabase } from '../../platform/database.ts';
import { ownTagKeys } from '../../tags/record/signing.ts';
import { bringInFarm } from './bring-in.ts';
import { rowsOf } from './manifest.schema.ts';
import { writeFarm } from './writer.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);

async function tagKeysOf(url: string): Promise<string[]> {
  const database = connect(url, 1);
  return ownTagKeys(database.db).finally(() => database.close());
}

async function exportFarm(config: Config, given: string | undefined): Promise<void> {
  const now = new Date();
  const path = resolve(given ?? `evenwater-farm-${now.toISOString().slice(0, 10)}.zip`);
  const part = join(dirname(path), `.${randomUUID()}.part`);
  try {
    const manifest = await onDatabase(config, say, async (url) => {
      const tagKeys = await tagKeysOf(url);
      return onConnection(url, (client) =>
        writeFarm(client, createWriteStream(part, { mode: 0o600, flush: true }), { now, tagKeys }),
      );
    });
    await rename(part, path);
    say(
      `Written: ${path} (${manifest.tables.length} tables, ${rowsOf(manifest)} rows, ${manifest.files.length} files).`,
    );
    say('No password and no key is in it. For a safe copy of this installation use npm run backup.');
  } finally {
    await rm(part, { force: true });
  }
}

async function importFarm(config: Config, path: string | undefined): Promise<void> {
  if (path === undefined) throw new Error('Name the file: npm run import-farm -- FILE');
  const folder = join(resolve(config.EVENWATER_DATA), 'farm-in-work');
  const { manifest, owner } = await onDatabase(config, say, async (url) => {
    await migrate(url);
    return bringInFarm(url, resolve(path), folder, new Date());
  });
  const name = manifest.sites.map((site) => site.name).join(', ');
  say(`Brought in ${name} as of ${manifest.madeAt}: ${rowsOf(manifest)} rows, each compared.`);
  say(
    owner === null
      ? 'Nobody has a password yet. Make a link for the owner with: npm run password -- ADDRESS'
      : 'The owner of this installation signs in as before. Others get a new link or PIN from the owner.',
  );
}

try {
  const [command, path] = process.argv.slice(2);
  const config = readConfig({ LOG_LEVEL: 'warn', ...process.env });
  await (command === 'export' ? exportFarm(config, path) : importFarm(config, path));
} catch (error) {
  process.stderr.write(`${error instanceof Error ? error.message : String(error)}\n`);
  process.exit(1);
}

// Makes a migration from what the schema gained since the newest one, or checks that schema and migrations agree.
//   npm run migration -- name_of_it     writes prisma/migrations/<time>_name_of_it/
//   npm run migration -- --check        fails when they disagree
// The schema as the newest migration left it is kept beside them. Works on a PostgreSQL of a moment's life.
import { existsSync } from 'node:fs';
import { copyFile, mkdir, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onConnection } from '../src/platform/database/connection.ts';
import { startEmbedded } from '../src/platform/database/embedded.ts';
import { migrate, schemaText } from '../src/platform/database/migrations.ts';
import { disagreements, sqlBetween } from './difference.ts';

const say = (line: string) => process.stdout.write(`${line}\n`);
const migrations = new URL('./migrations/', import.meta.url);
const newest = new URL('newest.prisma', migrations);

async function withServer<T>(work: (url: string) => Promise<T>): Promise<T> {
  const dir = await mkdtemp(join(tmpdir(), 'evenwater-migration-'));
  const server = await startEmbedded(dir, { durable: false });
  try {
    return await work(server.url);
  } finally {
    await server.stop();
    await rm(dir, { recursive: true, force: true });
  }
}

async function schemaThen(): Promise<string | null> {
  return existsSync(newest) ? readFile(newest, 'utf8') : null;
}

async function execute(url: string, sql: string): Promise<void> {
  await onConnection(url, (client) => client.query(sql));
}

async function check(url: string): Promise<string[]> {
  const plain = url.replace(/\/[^/]*$/, '/plain');
  await execute(url, 'CREATE DATABASE plain');
  await execute(plain, await sqlBetween(url, null, await schemaText()));
  await migrate(url);
  return disagreements(url, plain);
}

async function write(name: string, sql: string): Promise<void> {
  const stamp = new Date().toISOString().replace(/\D/g, '').slice(0, 14);
  const dir = new URL(`${stamp}_${name}/`, migrations);
  await mkdir(dir, { recursive: true });
  await writeFile(new URL('migration.sql', dir), `${sql}\n`);
  await copyFile(new URL('schema.prisma', import.meta.url), newest);
  say(`Written: prisma/migrations/${stamp}_${name}. Add by hand what the schema cannot say.`);
}

const argument = process.argv[2];
if (argument === '--check') {
  const lines = await withServer(check);
  say(lines.length === 0 ? 'Schema and migrations agree.' : lines.join('\n'));
  process.exitCode = lines.length === 0 ? 0 : 1;
} else if (argument) {
  const from = await schemaThen();
  const sql = await withServer(async (url) => sqlBetween(url, from, await schemaText()));
  if (sql) await write(argument, sql);
  else say('The schema has gained nothing since the newest migration.');
} else {
  say('Give the migration a name: npm run migration -- what_it_does');
  process.exitCode = 2;
}

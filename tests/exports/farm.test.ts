import { execFileSync, spawn } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { compactVerify, importJWK } from 'jose';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { ZipFile } from 'yazl';
import { loadCare } from '../../seed/care.ts';
import { growDemo } from '../../seed/demo/grow.ts';
import { bringInFarm, onClient } from '../../src/exports/farm/bring-in.ts';
import type { Manifest } from '../../src/exports/farm/manifest.schema.ts';
import { checkFarm, type FarmFile, openFarm } from '../../src/exports/farm/reader.ts';
import { writeFarm } from '../../src/exports/farm/writer.ts';
import { migrate, migrationNames } from '../../src/platform/database/migrations.ts';
import { connect } from '../../src/platform/database.ts';
import { ownTagKeys } from '../../src/tags/record/signing.ts';
import { freshDatabase } from '../support/database.ts';
import { type Bench, benchOn, type Visitor } from '../support/service.ts';

const made = new Date('2026-11-24T08:00:00Z');
const serverUrl = (name: string) => inject('templateUrl').replace(/\/[^/]*$/, `/${name}`);

async function ask<T extends object>(url: string, sql: string, values: unknown[] = []): Promise<T[]> {
  const client = new pg.Client({ connectionString: url });
  client.on('error', () => undefined);
  await client.connect();
  return client
    .query<T>(sql, values)
    .then(({ rows }) => rows)
    .finally(() => client.end());
}

const databases: string[] = [];
/** A database with nothing in it. */
async function bare(): Promise<string> {
  const name = `farm_${randomUUID().replaceAll('-', '')}`;
  await ask(serverUrl('postgres'), `CREATE DATABASE ${name}`);
  databases.push(name);
  return serverUrl(name);
}
async function empty(): Promise<string> {
  const url = await bare();
  await migrate(url);
  return url;
}

async function writeOut(url: string, name: string): Promise<{ path: string; manifest: Manifest }> {
  const path = join(folder, name);
  const database = connect(url, 1);
  const tagKeys = await ownTagKeys(database.db).finally(() => database.close());
  const manifest = await onClient(url, (client) =>
    writeFarm(client, createWriteStream(path), { now: made, tagKeys }),
  );
  return { path, manifest };
}

async function text(farm: FarmFile, name: string): Promise<string> {
  const parts: Buffer[] = [];
  for await (const part of (await farm.content(name)) as AsyncIterable<Buffer>) parts.push(part);
  return Buffer.concat(parts).toString('utf8');
}
const records = async (farm: FarmFile, table: string) =>
  (await text(farm, `data/${table}.jsonl`))
    .trimEnd()
    .split('\n')
    .map((line) => JSON.parse(line) as Record<string, unknown>);

/** An archive of any files, as somebody might put together. */
async function zipOf(name: string, files: Record<string, Buffer | string>): Promise<string> {
  const zip = new ZipFile();
  for (const [path, content] of Object.entries(files)) zip.addBuffer(Buffer.from(content), path);
  zip.end();
  const parts: Buffer[] = [];
  for await (const part of zip.outputStream as unknown as AsyncIterable<Buffer>) parts.push(part);
  const path = join(folder, name);
  await writeFile(path, Buffer.concat(parts));
  return path;
}

const sums = (manifest: Manifest) =>
  Object.fromEntries(manifest.files.map(({ name, sha256 }) => [name, sha256]));

let folder: string;
let source: Bench;
let sourceUrl: string;
let whole: { path: string; manifest: Manifest };

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'evenwater-farm-'));
  const database = await freshDatabase();
  sourceUrl = database.url;
  await loadCare(database.pool);
  await growDemo(database.pool, { seed: 7, now: made });
  source = await benchOn(database, { care: false, watching: false });
  whole = await writeOut(sourceUrl, 'whole.zip');
}, 240_000);

afterAll(async () => {
  await source.close();
  await rm(folder, { recursive: true, force: true });
  for (const name of databases)
    await ask(serverUrl('postgres'), `DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
});

describe('the archive of a farm', () => {
  test('holds each table as JSON lines and as CSV, and what was kept with them, as its manifest says', async () => {
    const farm = await openFarm(whole.path);
    await checkFarm(farm);
    expect(whole.manifest.tables.find(({ name }) => name === 'reading')?.rows).toBeGreaterThan(1000);
    for (const { name, rows } of whole.manifest.tables) {
      const lines = (await text(farm, `data/${name}.jsonl`)).split('\n').length - 1;
      expect(lines, name).toBe(rows);
    }
    farm.close();
  });
  test('comes into another', async () => {
    const target = await empty();
    await bringInFarm(target, whole.path, folder, made);
    const again = await writeOut(target, 'again.zip');
    const [a, b] = [sums(whole.manifest), sums(again.manifest)];
    expect(Object.keys(a).filter((name) => a[name] !== b[name])).toEqual([
      'data/journal_line.jsonl',
      'csv/journal_line.csv',
    ]);
  });
});

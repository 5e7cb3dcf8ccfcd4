import { execFileSync, spawn } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { mkdtemp, readFile, rm, truncate, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { fileURLToPath } from 'node:url';
import { generateIdentity, identityToRecipient } from 'age-encryption';
import pg from 'pg';
import { afterAll, beforeAll, describe, expect, inject, test } from 'vitest';
import { writeArchive } from '../../src/backups/archive-writer.ts';
import { restoreInPlaceOf, restoreInto } from '../../src/backups/restore.ts';
import { migrate, migrationNames } from '../../src/platform/database/migrations.ts';
import type { Database } from '../../src/platform/database.ts';
import { onServer } from '../support/database.ts';
import { demoDatabase } from '../support/demo-bench.ts';
import { startProcess } from '../support/processes.ts';

const serverUrl = (name: string) => inject('templateUrl').replace(/\/[^/]*$/, `/${name}`);

async function ask<T extends object>(url: string, sql: string): Promise<T[]> {
  const client = new pg.Client({ connectionString: url });
  client.on('error', () => undefined);
  await client.connect();
  return client
    .query<T>(sql)
    .then(({ rows }) => rows)
    .finally(() => client.end());
}

const made: string[] = [];
/** A database with nothing in it. */
async function bare(like = ''): Promise<string> {
  const name = `restore_${randomUUID().replaceAll('-', '')}`;
  await onServer(`CREATE DATABASE ${name} ${like}`);
  made.push(name);
  return serverUrl(name);
}
/** One of this version that holds no farm. */
const empty = () => bare('TEMPLATE template_evenwater STRATEGY FILE_COPY');

async function archive(url: string, path: string, recipient: string | null = null) {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  return writeArchive(client, path, { now: new Date('2026-11-24T08:00:00Z'), recipient }).finally(() =>
    client.end(),
  );
}

/** Every table in a number that PostgreSQL works out from its rows as JSON: another way than the one under test. */
async function sums(url: string): Promise<Record<string, string>> {
  const client = new pg.Client({ connectionString: url });
  await client.connect();
  const { rows: tables } = await client.query<{ name: string }>(
    `SELECT relname AS name FROM pg_class WHERE relkind = 'r' AND relnamespace = 'public'::regnamespace
      AND relname NOT IN ('session', 'fact_mark', 'wrong_try', '_prisma_migrations') ORDER BY 1`,
  );
  const sums: Record<string, string> = {};
  for (const { name } of tables) {
    const { rows } = await client.query<{ sum: string }>(
      `SELECT count(*) || ' ' || coalesce(sum(('x' || left(md5(to_jsonb(t)::text), 8))::bit(32)::bigint), 0) AS sum FROM "${name}" t`,
    );
    sums[name] = rows[0]?.sum ?? '';
  }
  await client.end();
  return sums;
}

let database: Database;
let folder: string;
let source: string;
let whole: string;
let wholeSums: Record<string, string>;

beforeAll(async () => {
  database = await demoDatabase();
  source = database.url;
  folder = await mkdtemp(join(tmpdir(), 'evenwater-backup-'));
  whole = join(folder, 'whole.tar.gz');
  await archive(source, whole);
  wholeSums = await sums(source);
});

afterAll(async () => {
  await database.close();
  await rm(folder, { recursive: true, force: true });
  for (const name of made) await ask(serverUrl('postgres'), `DROP DATABASE IF EXISTS ${name} WITH (FORCE)`);
});

describe('a backup', () => {
  test('comes back table by table as it was, with its rules in force', async () => {
    const target = await bare();
    const { head, contents } = await restoreInto(target, { path: whole });
    expect(await sums(target)).toEqual(wholeSums);
    expect(head.farm).not.toBe('');
    expect(contents.tables.find(({ name }) => name === 'reading')?.rows).toBeGreaterThan(1000);
    await expect(ask(target, 'UPDATE ledger_entry SET pieces = 1')).rejects.toThrow();
    await expect(
      ask(
        target,
        `INSERT INTO tank (id, system_id, name) VALUES (gen_random_uuid(), gen_random_uuid(), 'x')`,
      ),
    ).rejects.toThrow();
  });

  test('is an archive that common tools open', () => {
    const names = execFileSync('tar', ['-tzf', whole]).toString().trim().split('\n');
    expect(names[0]).toBe('evenwater-backup.json');
    expect(names.at(-1)).toBe('contents.json');
    expect(names).toContain('tables/reading/000001.copy');
    expect(names.some((name) => name.startsWith('tables/session/'))).toBe(false);
  });

  test('made while people write is of one moment, and each table fits the others', async () => {
    let writing = true;
    let written = 0;
    const writer = (async () => {
      const [system] = await ask<{ id: string }>(source, 'SELECT id FROM system LIMIT 1');
      const client = new pg.Client({ connectionString: source });
      await client.connect();
      for (; writing; written++) {
        await client.query('BEGIN');
        const { rows } = await client.query(
          `INSERT INTO tank (id, system_id, name, length_mm, width_mm, height_mm) VALUES (gen_random_uuid(), $1, $2, 1000, 500, 400) RETURNING id`,
          [system?.id, `Load ${written}`],
        );
        await client.query(
          `INSERT INTO journal_line (id, kind, subject_type, subject_id, detail) VALUES (gen_random_uuid(), 'tank.added', 'tank', $1, '{}')`,
          [rows[0].id],
        );
        await client.query('COMMIT');
      }
      await client.end();
    })();
    const path = join(folder, 'under-load.tar.gz');
    await archive(source, path);
    const atEnd = written;
    writing = false;
    await writer;
    expect(atEnd).toBeGreaterThan(10);
    const target = await bare();
    await restoreInto(target, { path });
    const [row] = await ask<{ tanks: number; lines: number }>(
      target,
      `SELECT (SELECT count(*) FROM tank WHERE name LIKE 'Load %')::int AS tanks,
              (SELECT count(*) FROM journal_line l JOIN tank t ON t.id = l.subject_id WHERE t.name LIKE 'Load %')::int AS lines`,
    );
    expect(row?.tanks).toBe(row?.lines);
    expect(row?.tanks).toBeLessThanOrEqual(atEnd);
  });

  test('encrypted opens with its identity alone', async () => {
    const identity = await generateIdentity();
    const path = join(folder, 'secret.tar.gz.age');
    await archive(source, path, await identityToRecipient(identity));
    expect((await readFile(path)).subarray(0, 21).toString()).toBe('age-encryption.org/v1');
    const target = await bare();
    await expect(restoreInto(target, { path })).rejects.toThrow('is encrypted. Name the file');
    await expect(restoreInto(target, { path, identity: await generateIdentity() })).rejects.toThrow(
      'this identity does not open it',
    );
    await restoreInto(target, { path, identity });
    expect(
      (await ask<{ n: number }>(target, 'SELECT count(*)::int AS n FROM reading'))[0]?.n,
    ).toBeGreaterThan(1000);
  });
});

describe('a file that cannot be used is named as what it is, and leaves an empty database empty', () => {
  const faults: [string, (path: string) => Promise<void>, RegExp][] = [
    [
      'cut off',
      async (path) => truncate(path, Math.floor((await readFile(path)).length / 2)),
      /ends too early/,
    ],
    [
      'cut off at its last bytes',
      async (path) => truncate(path, (await readFile(path)).length - 9),
      /ends too early/,
    ],
    [
      'with a changed byte',
      async (path) => {
        const bytes = await readFile(path);
        const at = Math.floor(bytes.length * 0.6);
        bytes[at] = (bytes[at] ?? 0) ^ 0x41;
        await writeFile(path, bytes);
      },
      /is damaged/,
    ],
    ['of another kind', (path) => writeFile(path, 'date;reading\n'), /is not a backup of Evenwater/],
    ['that is empty', (path) => writeFile(path, ''), /is not a backup of Evenwater/],
  ];
  test.each(faults)('%s', async (_, spoil, words) => {
    const path = join(folder, `${randomUUID()}.tar.gz`);
    await writeFile(path, await readFile(whole));
    await spoil(path);
    const target = await bare();
    await expect(restoreInto(target, { path })).rejects.toThrow(words);
    expect(
      await ask(target, `SELECT relname FROM pg_class WHERE relnamespace = 'public'::regnamespace`),
    ).toEqual([]);
  });

  test('that is not there', async () => {
    await expect(restoreInto(await bare(), { path: join(folder, 'none') })).rejects.toThrow(
      'There is no file',
    );
  });
});

describe('a restore', () => {
  test('is refused where a farm is, and beside it with --replace, which keeps the farm that was there', async () => {
    const target = await empty();
    await ask(target, `INSERT INTO site (id, name, time_zone) VALUES (gen_random_uuid(), 'Old Quay', 'UTC')`);
    await expect(restoreInto(target, { path: whole })).rejects.toThrow('holds a farm already');
    const leaving = ask(target, 'SELECT pg_sleep(1)');
    const { before } = await restoreInPlaceOf(target, { path: whole }, '20261124t080000');
    await leaving;
    made.push(before);
    expect(await sums(target)).toEqual(wholeSums);
    expect(await ask(serverUrl(before), 'SELECT name FROM site')).toEqual([{ name: 'Old Quay' }]);
  });

  test('of an older version is brought to this one', async () => {
    const old = await bare();
    const names = await migrationNames();
    await migrate(old, names.slice(0, -3));
    await ask(old, `INSERT INTO site (id, name, time_zone) VALUES (gen_random_uuid(), 'Old Quay', 'UTC')`);
    const path = join(folder, 'older.tar.gz');
    await archive(old, path);
    // A service was started on it once and found nothing: its tables are newer than the archive's.
    const target = await empty();
    await restoreInto(target, { path });
    expect(await ask(target, 'SELECT name FROM site')).toEqual([{ name: 'Old Quay' }]);
    expect(
      (
        await ask<{ n: number }>(
          target,
          'SELECT count(*)::int AS n FROM _prisma_migrations WHERE finished_at IS NOT NULL',
        )
      )[0]?.n,
    ).toBe(names.length);
  });

  test('of a newer version is refused', async () => {
    const newer = await empty();
    await ask(
      newer,
      `INSERT INTO _prisma_migrations (id, checksum, migration_name, finished_at, applied_steps_count) VALUES ('x', 'x', '20991231000000_to_come', now(), 1)`,
    );
    const path = join(folder, 'newer.tar.gz');
    await archive(newer, path);
    await expect(restoreInto(await bare(), { path })).rejects.toThrow('made by a newer Evenwater');
  });

  test('killed at any time leaves nothing half done, and can be done again', async () => {
    const target = await bare();
    const module = fileURLToPath(new URL('../../src/backups/restore.ts', import.meta.url));
    const code = `const { restoreInto } = await import(${JSON.stringify(module)}); console.log('begins');
      await restoreInto(${JSON.stringify(target)}, { path: ${JSON.stringify(whole)} });`;
    for (let tries = 0; tries < 4; tries++) {
      const child = spawn(process.execPath, ['--input-type=module', '-e', code], {
        stdio: ['ignore', 'pipe', 'ignore'],
      });
      const gone = new Promise((done) => child.once('exit', done));
      await new Promise((done) => child.stdout.once('data', done));
      await wait(400 + 500 * tries);
      child.kill('SIGKILL');
      await gone;
      const there = await ask<{ ours: boolean }>(
        target,
        "SELECT to_regclass('public.site') IS NOT NULL AS ours",
      );
      if (there[0]?.ours) {
        const [row] = await ask<{ n: number }>(
          target,
          'SELECT ((SELECT count(*) FROM site) + (SELECT count(*) FROM reading))::int AS n',
        );
        if (row?.n !== 0) expect(await sums(target)).toEqual(wholeSums);
      }
    }
    await expect
      .poll(() =>
        restoreInto(target, { path: whole }).then(
          () => 'done',
          (error: Error) => error.message,
        ),
      )
      .toMatch(/done|holds a farm already/);
    expect(await sums(target)).toEqual(wholeSums);
  });

  test('killed on the embedded server can be done again: the server it left behind is taken over', async () => {
    const data = join(folder, 'embedded');
    const run = () => startProcess('src/backups/commands.ts', ['restore', whole], { EVENWATER_DATA: data });
    const killed = run();
    const gone = new Promise((done) => killed.child.once('exit', done));
    const pid = join(data, 'database', 'pg', 'postmaster.pid');
    await expect.poll(() => existsSync(pid)).toBe(true);
    killed.child.kill('SIGKILL');
    await gone;
    expect(existsSync(pid)).toBe(true);
    await run().says(/Restored .* each compared/);
  });
});

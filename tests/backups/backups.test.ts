import { randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { chmod, mkdtemp, readdir, rm, stat, utimes, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { backupStateNow, lastAttempt, makeBackup } from '../../src/backups/backups.ts';
import { alteredTags } from '../../src/tags/tags/altered-tags.ts';
import { type Bench, startBench, type Visitor } from '../support/service.ts';

let bench: Bench;
let owner: Visitor;
let manager: Visitor;
let folder: string;

beforeAll(async () => {
  bench = await startBench({ watching: false });
  folder = await mkdtemp(join(tmpdir(), 'evenwater-kept-'));
  Object.assign(bench.service.config, {
    BACKUPS: 'nightly',
    BACKUP_FOLDER: join(folder, 'kept'),
    EVENWATER_DATA: join(folder, 'data'),
  });
  await bench.change(async (work) => {
    const site = await work.tx.site.create({ data: { name: 'Saltgate Yard', timeZone: 'Europe/Lisbon' } });
    work.record('site.created', { type: 'site', id: site.id }, { name: site.name });
  });
  owner = await bench.as('owner', 'Ines Varga');
  manager = await bench.as('manager', 'Tomas Quill');
});

afterAll(async () => {
  await bench.close();
  await rm(folder, { recursive: true, force: true });
});

const kept = () => readdir(join(folder, 'kept')).catch(() => []);

test('a backup is asked for by a button, proven, listed and taken away by the owner alone', async () => {
  expect((await owner.get('/backups')).body).toContain('There is no backup yet.');
  const asked = await owner.post('/backups', {});
  expect(asked.status).toBe(303);
  await expect.poll(async () => (await owner.get('/backups')).body, { interval: 500 }).toContain('/file');
  const { body } = await owner.get('/backups');
  expect(body).toContain('The last proven backup was made');
  expect(body).toContain('Ines Varga');
  const href = /href="(\/backups\/[^"]+\/file)"/.exec(body)?.[1] ?? '';
  const file = await owner.get(href);
  expect(file.headers['content-disposition']).toMatch(/evenwater-.*\.tar\.gz/);
  for (const path of ['/backups', href]) expect((await manager.get(path)).status).toBe(403);
  expect(await kept()).toHaveLength(1);
  const { mode } = await stat(join(folder, 'kept', (await kept())[0] ?? ''));
  expect(mode & 0o077).toBe(0);
});

test('one that cannot be proven is not kept, and is said to have failed', async () => {
  const before = await kept();
  const { fault } = await makeBackup(bench.service, [async () => ['Tag 7 is not what was signed.']]);
  expect(fault).toBe('Tag 7 is not what was signed.');
  expect(await kept()).toEqual(before);
  expect(await readdir(join(folder, 'data/backup-in-work'))).toEqual([]);
  expect((await owner.get('/backups')).body).toContain('Tag 7 is not what was signed.');
});

test('a folder that cannot be written is said, and shouted about after two days', async () => {
  const blocked = join(folder, 'blocked');
  await writeFile(blocked, 'a file where the folder should be');
  await chmod(blocked, 0o400);
  const config = { ...bench.service.config, BACKUP_FOLDER: blocked };
  const { fault } = await makeBackup({ ...bench.service, config }, [alteredTags]);
  expect(fault).toContain(blocked);
  const later = new Date(Date.now() + 3 * 86_400_000);
  expect(await backupStateNow(bench.service.pool, later)).toMatchObject({ state: 'late', fault });
  bench.at(later);
  expect((await owner.get('/')).body).toContain('There is no proven backup since');
  expect((await owner.get('/backups')).body).toContain('a broken disk takes everything with it');
  bench.at(new Date());
});

test('one that was cut off with its process is said to have failed, and what it left is cleared away', async () => {
  const { db } = bench.service;
  const begunAt = new Date();
  const later = new Date(begunAt.getTime() + 7 * 3_600_000);
  bench.at(later);
  const { id } = await db.backup.create({ data: { begunAt } });
  const inWork = () => join(folder, 'data/backup-in-work', `${randomUUID()}.tar.gz`);
  const [half, young] = [inWork(), inWork()];
  for (const path of [half, young]) await writeFile(path, 'half');
  await utimes(half, begunAt, begunAt);
  await utimes(young, later, later);
  // It is not waited for until the next night.
  expect((await lastAttempt(bench.service))?.last).toEqual({ at: begunAt, failed: true });
  await makeBackup(bench.service, []);
  expect((await db.backup.findUniqueOrThrow({ where: { id } })).fault).toContain('It was cut off');
  expect(existsSync(half)).toBe(false);
  expect(existsSync(young)).toBe(true);
  bench.at(new Date());
});

test('no scratch database is left behind', async () => {
  const { rows } = await bench.service.pool.query(
    "SELECT datname FROM pg_database WHERE datname LIKE '%_proof_%'",
  );
  expect(
    rows.filter(({ datname }) => String(datname).startsWith(bench.service.pool.options.database ?? 'none')),
  ).toEqual([]);
});

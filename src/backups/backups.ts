import { randomUUID } from 'node:crypto';
import { createReadStream, createWriteStream } from 'node:fs';
import { mkdir, open, readdir, rename, rm, stat } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { pipeline } from 'node:stream/promises';
import type pg from 'pg';
import type { PrismaClient } from '../generated/prisma/client.ts';
import { change } from '../platform/change.ts';
import type { Config } from '../platform/config.ts';
import { onConnection } from '../platform/database/connection.ts';
import { connect } from '../platform/database.ts';
import type { Service } from '../platform/service.ts';
import { hourMs } from '../science/numeric/time.ts';
import type { ArchivedTable } from './archive.schema.ts';
import { writeArchive } from './archive-writer.ts';
import { encrypting } from './encryption.ts';
import { besideIt, restoreInto } from './restore.ts';
import { type Attempt, type BackupState, backupState, backupWords, outlived } from './retention.rules.ts';

/** What an area checks of its own in a database that came out of a backup; each fault in a sentence. */
export type Proof = (db: PrismaClient) => Promise<string[]>;

type Making = Pick<Service, 'config' | 'db' | 'pool' | 'jobs' | 'now' | 'log'>;

export const backupFolder = (config: Pick<Config, 'BACKUP_FOLDER' | 'EVENWATER_DATA'>): string =>
  resolve(config.BACKUP_FOLDER ?? join(config.EVENWATER_DATA, 'backups'));

const workFolder = (config: Pick<Config, 'EVENWATER_DATA'>): string =>
  join(resolve(config.EVENWATER_DATA), 'backup-in-work');

/** Names that only files in the making have: one is written under it and then renamed, or deleted. */
const isHalfMade = (name: string): boolean => /^[0-9a-f-]{36}\.tar\.gz$|^\.evenwater-.*\.part$/.test(name);

function fileName(at: Date, encrypted: boolean): string {
  const stamp = at.toISOString().replace(/[:.]/g, '').replace('T', '-').slice(0, 17);
  return `evenwater-${stamp}Z.tar.gz${encrypted ? '.age' : ''}`;
}

/** The database that the service works on, as an address. */
export function addressOf(service: Pick<Service, 'pool'>): string {
  const { connectionString } = service.pool.options as { connectionString?: string };
  if (connectionString === undefined) throw new Error('the pool was opened without an address');
  return connectionString;
}

async function write(url: string, path: string, now: Date): Promise<ArchivedTable[]> {
  return onConnection(url, (client) => writeArchive(client, path, { now, recipient: null }));
}

/** Restores the archive into a database of a moment's life, where every row is compared, and lets each area check its own. */
async function prove(url: string, path: string, proofs: readonly Proof[]): Promise<string[]> {
  const suffix = `proof_${randomUUID().slice(0, 8)}`;
  return besideIt(url, suffix, async (scratch) => {
    await restoreInto(scratch, { path });
    const database = connect(scratch, 2);
    try {
      return (await Promise.all(proofs.map((proof) => proof(database.db)))).flat();
    } finally {
      await database.close();
    }
  });
}

/** Puts the archive where it is kept, whole or not at all. */
async function keep(clear: string, folder: string, name: string, recipient: string | null): Promise<number> {
  await mkdir(folder, { recursive: true });
  const part = join(folder, `.${name}.part`);
  try {
    await pipeline(
      createReadStream(clear),
      encrypting(recipient),
      createWriteStream(part, { mode: 0o600, flush: true }),
    );
    await rename(part, join(folder, name));
    const held = await open(folder);
    await held.sync().finally(() => held.close());
  } finally {
    await rm(part, { force: true });
  }
  return (await stat(join(folder, name))).size;
}

interface Made {
  file: string;
  bytes: number;
  rows: number;
  encrypted: boolean;
}

async function makeFile(service: Making, proofs: readonly Proof[]): Promise<Made> {
  const { config } = service;
  const url = addressOf(service);
  const recipient = config.BACKUP_RECIPIENT ?? null;
  const work = workFolder(config);
  await mkdir(work, { recursive: true });
  const clear = join(work, `${randomUUID()}.tar.gz`);
  try {
    const tables = await write(url, clear, service.now());
    const faults = await prove(url, clear, proofs);
    if (faults.length > 0) throw new Error(faults.slice(0, 3).join(' '));
    const file = fileName(service.now(), recipient !== null);
    const bytes = await keep(clear, backupFolder(config), file, recipient);
    return {
      file,
      bytes,
      rows: tables.reduce((sum, { rows }) => sum + rows, 0),
      encrypted: recipient !== null,
    };
  } finally {
    await rm(clear, { force: true });
  }
}

/** Longer than the largest farm takes; one that is not done by then was cut off with its process. Own choice. */
const longestMs = 6 * hourMs;

/** What was begun before this and is not done was cut off. */
const cutOffBefore = (now: Date) => new Date(now.getTime() - longestMs);

/** Says of attempts that were cut off that they failed, and clears away what they left half-made. */
async function endInterrupted(service: Making): Promise<void> {
  const before = cutOffBefore(service.now());
  await service.db.backup.updateMany({
    where: { provenAt: null, failedAt: null, begunAt: { lt: before } },
    data: { failedAt: service.now(), fault: 'It was cut off: the service ended while it was made.' },
  });
  for (const folder of [workFolder(service.config), backupFolder(service.config)]) {
    const names = await readdir(folder).catch(() => []);
    for (const path of names.filter(isHalfMade).map((name) => join(folder, name))) {
      const { mtime } = await stat(path);
      if (mtime < before) await rm(path, { force: true });
    }
  }
}

/** Deletes what is outlived, by age; a file that somebody took away counts as deleted. */
async function prune(service: Making, timeZone: string): Promise<void> {
  const rows = await service.db.backup.findMany({ where: { provenAt: { not: null }, deletedAt: null } });
  const old = new Set(
    outlived(
      rows.map(({ id, begunAt }) => ({ id, madeAt: begunAt })),
      timeZone,
    ),
  );
  for (const { id, file } of rows.filter((row) => old.has(row.id))) {
    await rm(join(backupFolder(service.config), file), { force: true });
    await service.db.backup.update({ where: { id }, data: { deletedAt: service.now() } });
  }
}

async function timeZoneOf(service: Pick<Service, 'db'>): Promise<string | null> {
  const site = await service.db.site.findFirst({ orderBy: { createdAt: 'asc' }, select: { timeZone: true } });
  return site?.timeZone ?? null;
}

/**
 * Makes a backup of everything, proves it by restoring it into a scratch database and comparing every row, keeps it,
 * and deletes those that are outlived. What goes wrong is written down and told; nothing of a failed one is kept.
 * @param accountId who asked for it; null for the nightly one
 */
export async function makeBackup(
  service: Making,
  proofs: readonly Proof[],
  accountId: string | null = null,
): Promise<{ id: string; fault: string | null }> {
  const { id } = await service.db.backup.create({ data: { begunAt: service.now(), accountId } });
  try {
    await endInterrupted(service);
    const made = await makeFile(service, proofs);
    await change(service, { accountId }, async (work) => {
      await work.tx.backup.update({ where: { id }, data: { ...made, provenAt: work.now } });
      work.record('backup.made', { type: 'backup', id }, { file: made.file, rows: made.rows });
    });
    await prune(service, (await timeZoneOf(service)) ?? 'UTC');
    return { id, fault: null };
  } catch (error) {
    const fault = error instanceof Error ? error.message : String(error);
    service.log.error({ err: error }, 'the backup failed');
    await service.db.backup.update({ where: { id }, data: { fault, failedAt: service.now() } });
    return { id, fault };
  }
}

/**
 * The attempt before, also where it was asked for by hand, and the farm's time zone; null while there is no farm to back
 * up. One that was cut off failed as well.
 */
export async function lastAttempt(
  service: Pick<Service, 'db' | 'now'>,
): Promise<{ last: Attempt | null; timeZone: string } | null> {
  const timeZone = await timeZoneOf(service);
  if (timeZone === null) return null;
  const newest = await service.db.backup.findFirst({
    orderBy: { begunAt: 'desc' },
    select: { begunAt: true, provenAt: true, failedAt: true },
  });
  if (newest === null) return { last: null, timeZone };
  const { begunAt, provenAt, failedAt } = newest;
  const isCutOff = provenAt === null && begunAt < cutOffBefore(service.now());
  return { last: { at: begunAt, failed: failedAt !== null || isCutOff }, timeZone };
}

/** A backup as its list shows it. */
export interface ListedBackup {
  id: string;
  begunAt: Date;
  provenAt: Date | null;
  failedAt: Date | null;
  fault: string;
  file: string;
  bytes: number;
  rows: number;
  encrypted: boolean;
  by: string | null;
}

/** The newest backups and attempts. */
export async function listBackups(reader: Pick<pg.Pool, 'query'>): Promise<ListedBackup[]> {
  const { rows } = await reader.query<ListedBackup>(
    `SELECT b.id, b.begun_at AS "begunAt", b.proven_at AS "provenAt", b.failed_at AS "failedAt", b.fault, b.file,
            b.bytes::float8 AS bytes, b.rows, b.encrypted, a.name AS by
       FROM backup b LEFT JOIN account a ON a.id = b.account_id
      WHERE b.deleted_at IS NULL ORDER BY b.begun_at DESC LIMIT 60`,
  );
  return rows;
}

/** Where the file of a kept backup lies, or null where it is not there any more. */
export async function backupPath(
  service: Pick<Service, 'db' | 'config'>,
  id: string,
): Promise<{ path: string; file: string } | null> {
  const row = await service.db.backup.findFirst({ where: { id, provenAt: { not: null }, deletedAt: null } });
  if (row === null) return null;
  const path = join(backupFolder(service.config), row.file);
  const there = await stat(path).then(
    (found) => found.isFile(),
    () => false,
  );
  return there ? { path, file: row.file } : null;
}

/** The update that began to make backups: a farm that was there before is not late on the day it is updated. */
const firstWatched = '20261128181856_backups_that_are_proven';

/** How the farm is backed up; null where there is nothing to say yet. One query. */
export async function backupStateNow(reader: Pick<pg.Pool, 'query'>, now: Date): Promise<BackupState | null> {
  const { rows } = await reader.query<{ provenAt: Date | null; began: Date | null; fault: string | null }>(
    `SELECT (SELECT max(proven_at) FROM backup) AS "provenAt",
            (SELECT greatest(min(created_at), (SELECT finished_at FROM _prisma_migrations WHERE migration_name = $1))
               FROM site HAVING count(*) > 0) AS began,
            (SELECT nullif(fault, '') FROM backup WHERE proven_at IS NOT NULL OR failed_at IS NOT NULL ORDER BY begun_at DESC LIMIT 1) AS fault`,
    [firstWatched],
  );
  const [row] = rows;
  if (row === undefined || row.began === null) return null;
  return backupState({ provenAt: row.provenAt, began: row.began, fault: row.fault }, now);
}

/** The same in a sentence, for Today and the digest; null where backups are made elsewhere. */
export async function backupWordsNow(
  { pool, config }: Pick<Service, 'pool' | 'config'>,
  clock: { timeZone: string; now: Date },
): Promise<{ words: string; late: boolean } | null> {
  if (config.BACKUPS === 'elsewhere') return null;
  const state = await backupStateNow(pool, clock.now);
  return state === null ? null : backupWords(state, clock);
}

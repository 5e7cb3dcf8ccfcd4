import { randomUUID } from 'node:crypto';
import { createWriteStream } from 'node:fs';
import { mkdir, rm } from 'node:fs/promises';
import { join } from 'node:path';
import { besideIt } from '../../backups/restore.ts';
import { onConnection } from '../../platform/database/connection.ts';
import { migrate, migrationNames } from '../../platform/database/migrations.ts';
import { checkEmpty, loadFarm, type Owner } from './load.ts';
import type { Manifest } from './manifest.schema.ts';
import { checkFarm, FarmFault, type FarmFile, openFarm } from './reader.ts';
import { writeFarm } from './writer.ts';

/** What was brought in. */
export interface BroughtIn {
  manifest: Manifest;
  owner: Owner | null;
}

/** @throws FarmFault where the archive is of a newer version than this service */
async function versionsOf({ manifest }: FarmFile): Promise<'same' | 'older'> {
  const names = await migrationNames();
  const known = new Set(names);
  if (!manifest.migrations.every((name) => known.has(name)))
    throw new FarmFault(
      'This archive was made by a newer Evenwater. Bring this installation to that version first.',
    );
  return manifest.migrations.join() === names.join() ? 'same' : 'older';
}

/** Writes the farm of an older archive as one of this version: in a database beside this one, which is migrated. */
async function renew(url: string, farm: FarmFile, path: string): Promise<void> {
  await besideIt(url, `older_${randomUUID().slice(0, 8)}`, async (beside) => {
    await migrate(beside, farm.manifest.migrations);
    await onConnection(beside, (client) => loadFarm(client, farm, null));
    await migrate(beside);
    const now = new Date(farm.manifest.madeAt);
    await onConnection(beside, (client) =>
      writeFarm(client, createWriteStream(path, { mode: 0o600 }), { now, tagKeys: [] }),
    );
  });
}

/**
 * Brings the archive of a farm into an empty installation. It is read through and compared with its manifest first; one of
 * an older version is brought to this one on the way. Killed half-way it leaves the installation as empty as it was.
 * @param folder where a file of the way may lie
 * @throws FarmFault
 */
export async function bringInFarm(url: string, path: string, folder: string, at: Date): Promise<BroughtIn> {
  const farm = await openFarm(path);
  const renewed = join(folder, `${randomUUID()}.zip`);
  try {
    await checkFarm(farm);
    const version = await versionsOf(farm);
    await onConnection(url, checkEmpty);
    const { manifest } = farm;
    if (version === 'same')
      return { manifest, owner: await onConnection(url, (client) => loadFarm(client, farm, at)) };
    await mkdir(folder, { recursive: true });
    await renew(url, farm, renewed);
    const now = await openFarm(renewed);
    try {
      return { manifest, owner: await onConnection(url, (client) => loadFarm(client, now, at)) };
    } finally {
      now.close();
    }
  } finally {
    farm.close();
    await rm(renewed, { force: true });
  }
}

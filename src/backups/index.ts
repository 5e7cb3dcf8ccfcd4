import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { backupPages } from './backups.pages.ts';
import { lastAttempt, makeBackup, type Proof } from './backups.ts';
import { checkRecipient } from './encryption.ts';
import { isDue } from './retention.rules.ts';

/** The queue of backups that are asked for, and of the look at the clock that asks for the nightly one. */
const backupQueue = 'backups';
const everyQuarter = '9,24,39,54 * * * *';

/**
 * Backups: made by themselves each night, by a button, or from the command line; each is proven.
 * @param proofs what each area checks of its own in a restored backup
 */
export async function backupsArea(
  app: FastifyInstance,
  service: Service,
  { proofs }: { proofs: readonly Proof[] },
): Promise<void> {
  const { BACKUP_RECIPIENT } = service.config;
  if (BACKUP_RECIPIENT !== undefined) await checkRecipient(BACKUP_RECIPIENT);
  backupPages(app, service, backupQueue);
  await service.jobs.work<{ accountId?: string }>(
    backupQueue,
    async ([asked]) => {
      if (asked?.accountId !== undefined) return void (await makeBackup(service, proofs, asked.accountId));
      if (service.config.BACKUPS === 'elsewhere') return;
      const farm = await lastAttempt(service);
      if (farm === null) return;
      if (isDue(farm.last, service.now(), farm.timeZone)) await makeBackup(service, proofs);
    },
    { batch: 1 },
  );
  await service.jobs.schedule(backupQueue, everyQuarter, 'UTC');
}

import type { Work } from '../../platform/change.ts';
import { noteRunning } from './equipment.ts';

/**
 * Somebody checked a system's equipment and found it all right: what is neither off for now nor noted as faulty was
 * seen running, and checks left out before are made up for.
 */
export async function noteCheckedWell(work: Work, systemId: string, at: Date): Promise<void> {
  const running = await work.tx.equipment.findMany({
    where: {
      systemId,
      removedAt: null,
      switchedOff: { none: { seenRunningAt: null, voidedAt: null } },
      faults: { none: { mendedAt: null } },
    },
    select: { id: true },
  });
  await noteRunning(
    work,
    running.map(({ id }) => id),
    at,
  );
  await work.tx.fault.updateMany({
    where: { systemId, leftOut: { not: null }, mendedAt: null, notedAt: { lte: at } },
    data: { mendedAt: work.now, mendedById: work.accountId, mended: 'Checked, all right' },
  });
  work.reevaluate(systemId);
}

/**
 * Notes that the check of a system's equipment was left out. `key` says which: noted twice, it is one.
 * @returns whether it was not noted before
 */
export async function noteLeftOut(
  work: Work,
  { systemId, key, words }: { systemId: string; key: string; words: string },
): Promise<boolean> {
  const row = { systemId, leftOut: key, seen: words, notedAt: work.now, accountId: work.accountId };
  const { count } = await work.tx.fault.createMany({
    data: [{ ...row, createdAt: work.now }],
    skipDuplicates: true,
  });
  if (count === 0) return false;
  work.record('check.left_out', { type: 'system', id: systemId }, { words });
  work.reevaluate(systemId);
  return true;
}

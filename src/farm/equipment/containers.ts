import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { litresNoted } from '../../platform/units/measures.ts';
import { findEquipment } from './equipment.ts';

/** How much is in a container: as it was seen (null where nobody looked), and from then on. */
export interface LevelNoted {
  seenL: number | null;
  afterL: number;
  at?: Date;
}

/** Notes how much is in a container, seen or filled. @throws Refusal 404; 422 more than it takes, or less than was seen */
export async function noteLevel(
  work: Work,
  id: string,
  { seenL, afterL, at = work.now }: LevelNoted,
): Promise<{ systemId: string; name: string }> {
  const { systemId, name, reservoirL, removedAt, filledAt } = await findEquipment(work.tx, id);
  if (removedAt !== null) throw notFound('This equipment');
  const field = seenL !== afterL ? 'filledL' : 'seenL';
  if (reservoirL !== null && afterL > reservoirL)
    throw new Refusal(`The container holds ${litresNoted(reservoirL)} at most.`, { field });
  if (seenL !== null && afterL < seenL)
    throw new Refusal('After filling it cannot hold less than before. Check the amount.', {
      field: 'filledL',
    });
  await work.tx.containerLevel.create({
    data: { equipmentId: id, at, seenL, afterL, accountId: work.accountId, createdAt: work.now },
  });
  if (filledAt === null || filledAt <= at)
    await work.tx.equipment.update({ where: { id }, data: { filledL: afterL, filledAt: at } });
  work.record(
    seenL === afterL ? 'equipment.level_seen' : 'equipment.filled',
    { type: 'equipment', id },
    { seenL, filledL: afterL },
  );
  work.reevaluate(systemId);
  return { systemId, name };
}

/** Keeps what a doser uses a day by its plan. */
export async function noteUse(work: Work, id: string, useLPerDay: number): Promise<void> {
  await work.tx.equipment.update({ where: { id }, data: { useLPerDay } });
}

import type { Work } from '../../platform/change.ts';
import { touchSystemsOf } from '../base/lot-lock.ts';
import { clearPlaces } from '../places/several-moves.ts';

/**
 * Takes lots back that never came as they were entered: the lines of their ledgers no longer count, and slots that they took
 * when they came were never taken; places to which they were moved since end now. The caller has locked them and looked at
 * what was done with them. Five queries and those of the places.
 */
export async function takeLotsBack(work: Work, lotIds: readonly string[], reason: string): Promise<void> {
  const ids = [...lotIds];
  await touchSystemsOf(work, ids);
  const untouched = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT id FROM placement WHERE lot_id = ANY(${ids}::uuid[]) AND to_at IS NULL AND reason = 'Taken in'
       AND NOT EXISTS (SELECT FROM placement AS other WHERE other.lot_id = placement.lot_id AND other.id <> placement.id)`;
  const placements = untouched.map(({ id }) => id);
  await work.tx.placementSlot.deleteMany({ where: { placementId: { in: placements } } });
  await work.tx.placement.deleteMany({ where: { id: { in: placements } } });
  await clearPlaces(work, ids, work.now);
  const data = { voidedAt: work.now, voidReason: reason };
  // What went off the count first, so that no count falls below zero meanwhile.
  const where = { lotId: { in: ids }, voidedAt: null };
  await work.tx.ledgerEntry.updateMany({ where: { ...where, change: { lt: 0 } }, data });
  await work.tx.ledgerEntry.updateMany({ where, data });
}

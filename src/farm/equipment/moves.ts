import type { Work } from '../../platform/change.ts';
import { Refusal, staleEdit } from '../../platform/refusal.ts';
import { type Equipment, findEquipment } from './equipment.ts';

/** Where a device goes, since when, and the version its page was drawn from. */
export interface EquipmentMove {
  tankId: string;
  since: Date;
  version: number;
}

/**
 * Moves a device to another tank, of its system or of another one. What was noted of it before (services, faults, when it
 * was off) keeps the system it was noted in. Its place within the tank and what it is part of are asked anew.
 * @returns the device as it was
 * @throws Refusal 404, 409 on a stale edit or while it is noted as off, 422 where it cannot go there
 */
export async function moveEquipment(
  work: Work,
  id: string,
  { tankId, since, version }: EquipmentMove,
): Promise<Equipment> {
  const before = await findEquipment(work.tx, id);
  if (before.lampId !== null)
    throw new Refusal('To hang lamps over another tank, use the page of the lamps.', { status: 409 });
  const tank = await work.tx.tank.findUnique({ where: { id: tankId }, include: { system: true } });
  if (tank === null || tank.system.retiredAt !== null)
    throw new Refusal('Choose a tank of the list.', { field: 'tankId' });
  if (tankId === before.tankId)
    throw new Refusal(`It is in ${tank.name} already. Choose another tank.`, { field: 'tankId' });
  const leaves = tank.systemId !== before.systemId;
  if (leaves && before.kind === 'doser')
    throw new Refusal(
      'A doser is planned for one water. Stop its plan, say on its page that it was removed, and add it to the other system.',
      { field: 'tankId' },
    );
  if (
    (await work.tx.switchedOff.count({ where: { equipmentId: id, seenRunningAt: null, voidedAt: null } })) > 0
  )
    throw new Refusal('It is noted as switched off. Mark as running, or that it is not off, then move it.', {
      status: 409,
    });
  const place = { leftMm: null, backMm: null, depthMm: null, facingDeg: null };
  const data = { tankId, systemId: tank.systemId, ...place, version: { increment: 1 } };
  const moved = await work.tx.equipment.updateMany({
    where: { id, version },
    data: leaves ? { ...data, partOfId: null } : data,
  });
  if (moved.count === 0) throw staleEdit('this equipment');
  if (leaves) await work.tx.equipment.updateMany({ where: { partOfId: id }, data: { partOfId: null } });
  work.record(
    'equipment.changed',
    { type: 'equipment', id },
    {
      before: { systemId: before.systemId, tankId: before.tankId },
      after: { systemId: tank.systemId, tankId, since },
    },
  );
  work.reevaluate(before.systemId);
  work.reevaluate(tank.systemId);
  return before;
}

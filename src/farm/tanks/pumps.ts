import type { Equipment as PumpRow } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import type { PumpEdit, PumpInput } from './pumps.schema.ts';
import { findTank } from './tanks.ts';

/** A pump that moves the water of a tank. */
export interface Pump extends PumpRow {
  tank: { id: string; name: string; system: { id: string; name: string } };
}

/** @throws Refusal 404 */
export async function findPump(db: Reader, id: string): Promise<Pump> {
  const named = { select: { id: true, name: true } };
  const include = { tank: { select: { id: true, name: true, system: named } } };
  const pump = await db.equipment.findUnique({ where: { id }, include });
  if (pump?.tank == null) throw notFound('This pump');
  return { ...pump, tank: pump.tank };
}

/** The pumps in a tank now, by name. */
export function listPumps(db: Reader, tankId: string): Promise<PumpRow[]> {
  return db.equipment.findMany({
    where: { tankId, kind: 'wave_pump', removedAt: null },
    orderBy: { name: 'asc' },
  });
}

/** @throws Refusal 404 */
export async function addPump(work: Work, tankId: string, input: PumpInput): Promise<{ id: string }> {
  const tank = await findTank(work.tx, tankId);
  const { id } = await work.tx.equipment.create({
    data: { ...input, kind: 'wave_pump', tankId, systemId: tank.systemId },
  });
  work.record('pump.created', { type: 'pump', id }, { tankId, ...input });
  work.reevaluate(tank.systemId);
  return { id };
}

/** Changes a pump, or takes it out of the tank; its row stays. @throws Refusal 404, 409 on a stale edit */
export async function editPump(
  work: Work,
  id: string,
  { version, removed, ...after }: PumpEdit,
): Promise<Pump> {
  const pump = await findPump(work.tx, id);
  const removedAt = removed ? (pump.removedAt ?? work.now) : null;
  const data = { ...after, removedAt, version: { increment: 1 } };
  const changed = await work.tx.equipment.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this pump');
  const { tank, version: seen, ...before } = pump;
  work.record('pump.changed', { type: 'pump', id }, { before, after: { ...after, removedAt } });
  work.reevaluate(tank.system.id);
  return pump;
}

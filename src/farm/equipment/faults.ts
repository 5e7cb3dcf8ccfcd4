import type { Fault } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';

/** Something wrong with equipment, as somebody saw it. */
export interface FaultSeen {
  systemId: string;
  equipmentId: string | null;
  seen: string;
  at?: Date;
  /** The round it was noted on. */
  roundId?: string | null;
}

/** Notes a fault, of which the watch tells at once. @throws Refusal when the equipment is not of the system */
export async function noteFault(work: Work, input: FaultSeen): Promise<{ id: string }> {
  const { systemId, equipmentId, seen, at = work.now, roundId = null } = input;
  const inSystem = { id: equipmentId ?? '', systemId };
  if (equipmentId !== null && (await work.tx.equipment.count({ where: inSystem })) === 0)
    throw new Refusal('Choose equipment of this system.', { field: 'equipmentId' });
  const { id } = await work.tx.fault.create({
    data: {
      systemId,
      equipmentId,
      seen,
      notedAt: at,
      roundId,
      accountId: work.accountId,
      createdAt: work.now,
    },
  });
  work.record('fault.noted', { type: 'fault', id }, { equipmentId, seen });
  work.reevaluate(systemId);
  return { id };
}

/** @throws Refusal 404 */
export async function findFault(db: Reader, id: string): Promise<Fault> {
  const fault = await db.fault.findUnique({ where: { id } });
  if (fault === null) throw notFound('This fault');
  return fault;
}

/** Says that a fault is mended, and what was done. Said twice, the first time counts. @throws Refusal 404 */
export async function mendFault(work: Work, id: string, mended: string): Promise<Fault> {
  const fault = await findFault(work.tx, id);
  const end = { mendedAt: work.now, mendedById: work.accountId, mended };
  await work.tx.fault.updateMany({ where: { id, mendedAt: null }, data: end });
  work.record('fault.mended', { type: 'fault', id }, { mended });
  work.reevaluate(fault.systemId);
  return fault;
}

/** The open faults of a device, newest first. */
export function faultsOf(db: Reader, equipmentId: string): Promise<Fault[]> {
  return db.fault.findMany({ where: { equipmentId, mendedAt: null }, orderBy: { notedAt: 'desc' } });
}

/** The open faults of a system, newest first, with the equipment's name. */
export async function openFaults(db: Reader, systemId: string) {
  return db.fault.findMany({
    where: { systemId, mendedAt: null },
    orderBy: { notedAt: 'desc' },
    include: { equipment: { select: { id: true, name: true } } },
  });
}

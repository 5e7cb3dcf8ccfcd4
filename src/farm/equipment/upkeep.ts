import type { UpkeepWork } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { findCircuit } from './circuits.ts';
import { findEquipment } from './equipment.ts';

/** A service or a test that was done. */
export interface UpkeepDone {
  id: string;
  at: Date;
  note: string;
  work: UpkeepWork;
  who: string | null;
}

/** Notes that equipment was serviced or tested. @throws Refusal 404 */
export async function noteUpkeep(
  work: Work,
  equipmentId: string,
  { kind, at = work.now, note }: { kind: UpkeepWork; at?: Date; note: string },
): Promise<{ systemId: string; name: string }> {
  const { systemId, name } = await findEquipment(work.tx, equipmentId);
  const row = { equipmentId, work: kind, at, note, accountId: work.accountId, createdAt: work.now };
  await work.tx.upkeep.create({ data: row });
  work.record(
    kind === 'service' ? 'equipment.serviced' : 'equipment.tested',
    { type: 'equipment', id: equipmentId },
    { note, at },
  );
  work.reevaluate(systemId);
  return { systemId, name };
}

/** Notes that the protection of a circuit was tested. @throws Refusal 404 */
export async function noteCircuitTest(
  work: Work,
  circuitId: string,
  { at = work.now, note }: { at?: Date; note: string },
): Promise<{ name: string }> {
  const { name } = await findCircuit(work.tx, circuitId);
  const row = { circuitId, work: 'test' as const, at, note, accountId: work.accountId, createdAt: work.now };
  await work.tx.upkeep.create({ data: row });
  work.record('circuit.tested', { type: 'circuit', id: circuitId }, { note, at });
  return { name };
}

/** A service or a test with what it was done to. @throws Refusal 404 */
export async function findUpkeep(db: Reader, id: string) {
  const done = await db.upkeep.findUnique({ where: { id }, include: { equipment: true, circuit: true } });
  if (done === null) throw notFound('This service');
  const { equipment, circuit } = done;
  const of = equipment === null ? 'circuits' : 'equipment';
  const subject = equipment ?? circuit;
  return { ...done, name: subject?.name ?? '', href: `/farm/${of}/${subject?.id}` };
}

/** Takes back a service or a test that was not done so: it is then due as before. The journal keeps it. @throws Refusal 404 */
export async function removeUpkeep(work: Work, id: string, reason: string) {
  const done = await findUpkeep(work.tx, id);
  await work.tx.upkeep.delete({ where: { id } });
  const { at, note, work: kind, equipmentId, circuitId } = done;
  const subject =
    equipmentId === null
      ? ({ type: 'circuit', id: circuitId ?? '' } as const)
      : ({ type: 'equipment', id: equipmentId } as const);
  work.record('upkeep.removed', subject, { what: kind, at, note, reason });
  if (done.equipment !== null) work.reevaluate(done.equipment.systemId);
  return done;
}

/** The last services and tests of equipment or of a circuit, newest first. */
export async function listUpkeep(
  db: Reader,
  of: { equipmentId: string } | { circuitId: string },
): Promise<Omit<UpkeepDone, 'who'>[]> {
  return db.upkeep.findMany({
    where: of,
    orderBy: { at: 'desc' },
    take: 20,
    select: { id: true, at: true, note: true, work: true },
  });
}

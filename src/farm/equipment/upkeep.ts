import type { UpkeepWork } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import type { Reader } from '../../platform/service.ts';
import { findCircuit } from './circuits.ts';
import { findEquipment } from './equipment.ts';

/** A service or a test that was done. */
export interface UpkeepDone {
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

/** The last services and tests of equipment or of a circuit, newest first. */
export async function listUpkeep(
  db: Reader,
  of: { equipmentId: string } | { circuitId: string },
): Promise<Omit<UpkeepDone, 'who'>[]> {
  return db.upkeep.findMany({
    where: of,
    orderBy: { at: 'desc' },
    take: 20,
    select: { at: true, note: true, work: true },
  });
}

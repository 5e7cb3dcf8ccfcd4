import type pg from 'pg';
import type { Equipment as EquipmentRow } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { findOpenSystem } from '../systems/systems.ts';
import type { EquipmentEdit, EquipmentInput } from './equipment.schema.ts';

/** A device on the books, with where it hangs. */
export interface Equipment extends EquipmentRow {
  system: { id: string; name: string; volumeL: number };
  tank: { id: string; name: string } | null;
  circuit: { id: string; name: string } | null;
  partOf: { id: string; name: string } | null;
}

const named = { select: { id: true, name: true } };
const around = {
  system: { select: { id: true, name: true, volumeL: true } },
  tank: named,
  circuit: named,
  partOf: named,
};

/** @throws Refusal 404 */
export async function findEquipment(db: Reader, id: string): Promise<Equipment> {
  const equipment = await db.equipment.findUnique({ where: { id }, include: around });
  if (equipment === null) throw notFound('This equipment');
  return equipment;
}

/** The wave and return pumps in a tank now, by name. */
export function listPumps(db: Reader, tankId: string): Promise<EquipmentRow[]> {
  return db.equipment.findMany({
    where: { tankId, kind: { in: ['wave_pump', 'return_pump'] }, removedAt: null },
    orderBy: { name: 'asc' },
  });
}

/** Equipment in a list: where it hangs, whether it is off, what is wrong with it, when it was last serviced and tested. */
export interface EquipmentLine extends EquipmentRow {
  systemName: string;
  systemVolumeL: number;
  tankName: string | null;
  circuitName: string | null;
  /** What is noted as off now; null where it runs as far as is known. */
  off: { id: string; dueAt: Date; why: string } | null;
  /** What somebody saw wrong and nobody mended. */
  fault: string | null;
  servicedAt: Date | null;
  testedAt: Date | null;
}

const lineQuery = `
  SELECT equipment.id, equipment.system_id AS "systemId", equipment.tank_id AS "tankId", circuit_id AS "circuitId",
         part_of_id AS "partOfId", lamp_id AS "lampId", equipment.kind, equipment.name, left_mm AS "leftMm",
         back_mm AS "backMm", depth_mm AS "depthMm", facing_deg AS "facingDeg", runs, setpoint,
         setpoint_unit AS "setpointUnit", reservoir_l AS "reservoirL", use_l_per_day AS "useLPerDay",
         filled_at AS "filledAt", filled_l AS "filledL", holds, strength_code AS "strengthCode", strength,
         service_every_days AS "serviceEveryDays", equipment.test_every_days AS "testEveryDays",
         equipment.seen_running_at AS "seenRunningAt", equipment.seen_running_by_id AS "seenRunningById", equipment.note,
         equipment.created_at AS "createdAt", equipment.removed_at AS "removedAt", equipment.version,
         system.name AS "systemName", system.volume_l AS "systemVolumeL", tank.name AS "tankName", circuit.name AS "circuitName",
         CASE WHEN off.id IS NOT NULL THEN to_jsonb(off) END AS off, fault.seen AS fault,
         (SELECT max(at) FROM upkeep WHERE equipment_id = equipment.id AND work = 'service') AS "servicedAt",
         (SELECT max(at) FROM upkeep WHERE equipment_id = equipment.id AND work = 'test') AS "testedAt"
    FROM equipment JOIN system ON system.id = equipment.system_id LEFT JOIN tank ON tank.id = equipment.tank_id
    LEFT JOIN circuit ON circuit.id = equipment.circuit_id
    LEFT JOIN LATERAL (SELECT id, due_at AS "dueAt", why FROM switched_off
                        WHERE equipment_id = equipment.id AND seen_running_at IS NULL AND voided_at IS NULL LIMIT 1) AS off ON true
    LEFT JOIN LATERAL (SELECT seen FROM fault WHERE equipment_id = equipment.id AND mended_at IS NULL
                        ORDER BY noted_at DESC LIMIT 1) AS fault ON true
   WHERE equipment.removed_at IS NULL AND system.retired_at IS NULL`;
const inOrder = 'ORDER BY system.position, system.name, equipment.kind, tank.position, equipment.name';

const dated = (rows: EquipmentLine[]): EquipmentLine[] =>
  rows.map((row) => ({ ...row, off: row.off && { ...row.off, dueAt: new Date(row.off.dueAt) } }));

/** The equipment in use on a site, in the order of its systems and kinds. One query. */
export async function listEquipment(pool: pg.Pool, siteId: string): Promise<EquipmentLine[]> {
  return dated(
    (await pool.query<EquipmentLine>(`${lineQuery} AND system.site_id = $1 ${inOrder}`, [siteId])).rows,
  );
}

/** The equipment in use in some systems. One query. */
export async function equipmentOf(pool: pg.Pool, systemIds: readonly string[]): Promise<EquipmentLine[]> {
  return dated(
    (await pool.query<EquipmentLine>(`${lineQuery} AND system.id = ANY($1) ${inOrder}`, [systemIds])).rows,
  );
}

/** @throws Refusal 404, 422 (a tank, circuit or top-up from elsewhere) */
export async function addEquipment(work: Work, input: EquipmentInput): Promise<{ id: string }> {
  const system = await findOpenSystem(work.tx, input.systemId);
  await checkPlaces(work.tx, input, system);
  const { id } = await work.tx.equipment.create({ data: { ...input, createdAt: work.now } });
  work.record('equipment.added', { type: 'equipment', id }, input);
  work.reevaluate(input.systemId);
  return { id };
}

/** Changes equipment, or takes it out of use; its row stays. @throws Refusal 404, 409 on a stale edit, 422 */
export async function editEquipment(
  work: Work,
  id: string,
  { version, removed, name, tankId, ...rest }: EquipmentEdit,
): Promise<Equipment> {
  const {
    system,
    tank: _tank,
    circuit: _circuit,
    partOf: _partOf,
    ...before
  } = await findEquipment(work.tx, id);
  const isLamp = before.lampId !== null;
  if (!isLamp && name === '') throw new Refusal('Enter a name.', { field: 'name' });
  const own = isLamp ? { name: before.name, tankId: before.tankId } : { name, tankId };
  const removedAt = removed && !isLamp ? (before.removedAt ?? work.now) : null;
  const after = { ...rest, ...own, removedAt };
  const site = await work.tx.system.findUniqueOrThrow({ where: { id: before.systemId } });
  await checkPlaces(work.tx, after, site);
  const data = { ...after, version: { increment: 1 } };
  const changed = await work.tx.equipment.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this equipment');
  work.record('equipment.changed', { type: 'equipment', id }, { before, after });
  work.reevaluate(before.systemId);
  return { ...(await findEquipment(work.tx, id)), system };
}

/** Where it is said to hang must be of its own system and site. @throws Refusal 422 */
async function checkPlaces(
  tx: Tx,
  { tankId, circuitId, partOfId }: Pick<EquipmentRow, 'tankId' | 'circuitId' | 'partOfId'>,
  { id: systemId, siteId }: { id: string; siteId: string },
): Promise<void> {
  if (tankId !== null && (await tx.tank.count({ where: { id: tankId, systemId } })) === 0)
    throw new Refusal('Choose a tank of its system.', { field: 'tankId' });
  if (circuitId !== null) await tx.$queryRaw`SELECT 1 FROM circuit WHERE id = ${circuitId}::uuid FOR SHARE`;
  if (
    circuitId !== null &&
    (await tx.circuit.count({ where: { id: circuitId, siteId, removedAt: null } })) === 0
  )
    throw new Refusal('Choose a circuit of this site.', { field: 'circuitId' });
  if (partOfId !== null && (await tx.equipment.count({ where: { id: partOfId, systemId } })) === 0)
    throw new Refusal('Choose equipment of its system.', { field: 'partOfId' });
}

/** Notes that somebody saw it running just now. @throws Refusal 404 */
export async function noteSeenRunning(work: Work, id: string): Promise<Equipment> {
  const equipment = await findEquipment(work.tx, id);
  await noteRunning(work, [id], work.now);
  work.record('equipment.seen_running', { type: 'equipment', id });
  return equipment;
}

/** Notes of several that somebody saw them running at a time. */
export async function noteRunning(work: Work, ids: readonly string[], at: Date): Promise<void> {
  if (ids.length === 0) return;
  const later = { OR: [{ seenRunningAt: null }, { seenRunningAt: { lt: at } }] };
  await work.tx.equipment.updateMany({
    where: { id: { in: [...ids] }, ...later },
    data: { seenRunningAt: at, seenRunningById: work.accountId },
  });
}

/** What a solution can hold, for the form: every quantity with its canonical unit. */
export function listStrengths(db: Reader): Promise<{ code: string; name: string; canonicalUnit: string }[]> {
  return db.quantity.findMany({
    orderBy: { position: 'asc' },
    select: { code: true, name: true, canonicalUnit: true },
  });
}

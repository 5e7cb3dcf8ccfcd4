import type { Tank as TankRow } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { findSystem } from '../systems/systems.ts';
import { refuseConcerns } from './concerns.ts';
import { quarantineRefusal } from './quarantine.rules.ts';
import { placeConcerns } from './rack-places.rules.ts';
import type { TankEdit, TankInput } from './tanks.schema.ts';

/** A vessel in a system. */
export interface Tank extends TankRow {
  system: { id: string; name: string };
}

/** @throws Refusal 404 */
export async function findTank(db: Reader, id: string): Promise<Tank> {
  const include = { system: { select: { id: true, name: true } } };
  const tank = await db.tank.findUnique({ where: { id }, include });
  if (tank === null) throw notFound('This tank');
  return tank;
}

/** A system's tanks in their order. */
export function listTanks(db: Reader, systemId: string): Promise<TankRow[]> {
  return db.tank.findMany({ where: { systemId }, orderBy: { position: 'asc' } });
}

/** The tanks of the site that a system belongs to, but of systems out of service: system by system, in their order. */
export async function listSiteTanks(db: Reader, systemId: string): Promise<Tank[]> {
  const { siteId } = await findSystem(db, systemId);
  return db.tank.findMany({
    where: { system: { siteId, retiredAt: null } },
    include: { system: { select: { id: true, name: true } } },
    orderBy: [{ system: { position: 'asc' } }, { system: { name: 'asc' } }, { position: 'asc' }],
  });
}

/** @throws Refusal 409 where a quarantine would share its water */
async function refuseSharedQuarantine(
  tx: Tx,
  tank: Pick<TankInput, 'quarantine' | 'ownWater'>,
  { systemId, except }: { systemId: string; except: string | null },
): Promise<void> {
  const system = await findSystem(tx, systemId);
  const others = (await listTanks(tx, systemId)).filter(({ id }) => id !== except);
  const refused = quarantineRefusal(tank, others, system.name);
  if (refused !== '') throw new Refusal(refused, { status: 409, field: 'ownWater' });
}

export async function addTank(work: Work, systemId: string, input: TankInput): Promise<{ id: string }> {
  await refuseSharedQuarantine(work.tx, input, { systemId, except: null });
  const position = await work.tx.tank.count({ where: { systemId } });
  const { id } = await work.tx.tank.create({ data: { ...input, systemId, position } });
  work.record('tank.created', { type: 'tank', id }, { systemId, ...input });
  work.reevaluate(systemId);
  return { id };
}

/** What is odd about the racks of a tank with other measures, and was not before. */
async function newConcerns(tx: Tx, tank: Tank, after: TankInput): Promise<string[]> {
  const racks = await tx.rack.findMany({ where: { tankId: tank.id }, orderBy: { position: 'asc' } });
  return racks.flatMap((rack) => {
    const before = placeConcerns(rack, { ...tank, name: after.name }, []);
    const now = placeConcerns(rack, after, []).filter((concern) => !before.includes(concern));
    return now.map((concern) => `${rack.name}: ${concern}`);
  });
}

/**
 * What areas above do when the water of a tank becomes its own, or is shared again with the other tanks of its system;
 * `tank` is as it was.
 */
export type WaterOfTankChanges = (work: Work, tank: Tank, isOwn: boolean) => Promise<void>;

/** @throws Refusal 404, 409 on a stale edit, 422 where racks then stick out and `sure` is not ticked */
export async function editTank(
  work: Work,
  id: string,
  { version, sure, ...after }: TankEdit,
  waterChanges: WaterOfTankChanges,
): Promise<Tank> {
  const tank = await findTank(work.tx, id);
  if (!sure) refuseConcerns(await newConcerns(work.tx, tank, after));
  // Another name or note is nobody's business here; what changes about its water is.
  if (after.quarantine !== tank.quarantine || after.ownWater !== tank.ownWater)
    await refuseSharedQuarantine(work.tx, after, { systemId: tank.systemId, except: id });
  const isOwn = after.ownWater !== '';
  if (isOwn !== (tank.ownWater !== '')) await waterChanges(work, tank, isOwn);
  const data = { ...after, version: { increment: 1 } };
  const changed = await work.tx.tank.updateMany({ where: { id, version }, data });
  if (changed.count === 0) throw staleEdit('this tank');
  const { name, lengthMm, widthMm, heightMm, quarantine, ownWater, note } = tank;
  const before = { name, lengthMm, widthMm, heightMm, quarantine, ownWater, note };
  work.record('tank.changed', { type: 'tank', id }, { before, after });
  work.reevaluate(tank.systemId);
  return tank;
}

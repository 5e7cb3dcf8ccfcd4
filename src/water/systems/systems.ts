import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';

/** One system, as the water pages need it. */
export interface WaterSystem {
  id: string;
  siteId: string;
  name: string;
  volumeL: number;
  retiredAt: Date | null;
}

const columns = { id: true, siteId: true, name: true, volumeL: true, retiredAt: true };

/** @throws Refusal 404 */
export async function findWaterSystem(db: Reader, id: string): Promise<WaterSystem> {
  const system = await db.system.findUnique({ where: { id }, select: columns });
  if (system === null) throw notFound('This system');
  return system;
}

/** The system, if readings and log entries may still be entered for it. @throws Refusal 404; 422 when it is retired */
export async function findOpenWaterSystem(db: Reader, id: string): Promise<WaterSystem> {
  const system = await findWaterSystem(db, id);
  if (system.retiredAt === null) return system;
  throw new Refusal(`${system.name} is retired, so nothing can be entered for it. Choose another system.`);
}

/**
 * Holds the water of these systems until the change is done. What is judged by what was entered before (a dose by the
 * day's doses, a reading by the readings before it) is entered one after the other, in the order of the locks.
 */
export async function lockWaters(tx: Tx, ids: readonly string[]): Promise<void> {
  await tx.$queryRaw`SELECT 1 FROM system WHERE id = ANY(${[...new Set(ids)]}::uuid[]) ORDER BY id FOR NO KEY UPDATE`;
}

/** As {@link findOpenWaterSystem}, with its water held until the change is done. @throws Refusal 404; 422 when it is retired */
export async function lockOpenWaterSystem(tx: Tx, id: string): Promise<WaterSystem> {
  await lockWaters(tx, [id]);
  return findOpenWaterSystem(tx, id);
}

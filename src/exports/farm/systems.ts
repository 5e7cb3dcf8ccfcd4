import type { Reader } from '../../platform/service.ts';

/** Every system in service, of every site. */
export async function systemsOf(db: Reader): Promise<string[]> {
  const rows = await db.system.findMany({ where: { retiredAt: null }, select: { id: true } });
  return rows.map(({ id }) => id);
}

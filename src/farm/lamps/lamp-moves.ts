import type { Work } from '../../platform/change.ts';
import { Refusal, staleEdit } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { whenWords } from '../../platform/words/times.ts';
import { noteFirstMountings, noteMountings } from '../racks/mounting.ts';
import { findTank } from '../tanks/tanks.ts';
import type { LampMove } from './lamps.schema.ts';
import { findLamp, type Lamp, lampFingerprint } from './lamps.ts';

/** The tanks of a site in service with their racks and what lights those. */
export const tanksToHangOver = (db: Reader, siteId: string) =>
  db.tank.findMany({
    where: { system: { siteId, retiredAt: null } },
    orderBy: [{ system: { name: 'asc' } }, { position: 'asc' }, { name: 'asc' }],
    select: {
      id: true,
      name: true,
      system: { select: { name: true } },
      racks: {
        orderBy: [{ position: 'asc' }, { name: 'asc' }],
        select: { id: true, name: true, lamp: { select: { name: true } } },
      },
    },
  });

/** Of a rack, when it was last mounted otherwise; the latest of several decides. */
const lastMounted = `SELECT rack.name, stand.at FROM rack_stand AS stand JOIN rack ON rack.id = stand.rack_id
  WHERE rack.id = ANY($1::uuid[]) ORDER BY stand.at DESC LIMIT 1`;

/**
 * Hangs lamps over another tank from a time on. Racks that they lit until then keep that light in their past.
 * @returns the lamps as they were
 * @throws Refusal 404, 409 on a stale edit, 422 for the same tank, a rack of another tank, or a time before a rack was last
 * mounted otherwise
 */
export async function moveLamp(
  work: Work,
  id: string,
  { tankId, racks, since, seen }: LampMove,
): Promise<Lamp> {
  await work.tx.$queryRaw`SELECT 1 FROM lamp WHERE id = ${id}::uuid FOR UPDATE`;
  const lamp = await findLamp(work.tx, id);
  if (lampFingerprint(lamp) !== seen) throw staleEdit('these lamps');
  if (lamp.tankId === tankId)
    throw new Refusal(`They hang over ${lamp.tank.name} already. Choose another tank.`, { field: 'tankId' });
  const tank = await findTank(work.tx, tankId);
  const there = { id: { in: racks }, tankId };
  if ((await work.tx.rack.count({ where: there })) < new Set(racks).size)
    throw new Refusal(`Tick only racks of ${tank.name}.`, { field: 'racks' });
  const left = lamp.racks.map((rack) => rack.id);
  await holdAfterMountings(work, [...left, ...racks], since);
  await noteFirstMountings(work, [...left, ...racks]);
  const next = { version: { increment: 1 } } as const;
  await work.tx.rack.updateMany({ where: { id: { in: left } }, data: { lampId: null, ...next } });
  await work.tx.lamp.update({ where: { id }, data: { tankId } });
  await work.tx.rack.updateMany({ where: there, data: { lampId: id, ...next } });
  await noteMountings({ ...work, now: since }, [...left, ...racks]);
  const before = { tankId: lamp.tankId, racks: left };
  work.record('lamp.changed', { type: 'lamp', id }, { before, after: { tankId, racks, since } });
  work.reevaluate(lamp.system.id);
  work.reevaluate(tank.systemId);
  return lamp;
}

async function holdAfterMountings(work: Work, racks: readonly string[], since: Date): Promise<void> {
  const [last] = await work.tx.$queryRawUnsafe<{ name: string; at: Date }[]>(lastMounted, racks);
  if (last === undefined || last.at <= since) return;
  throw new Refusal(
    `${last.name} was moved ${whenWords(last.at, 'UTC', work.now)} (UTC). Enter a later time.`,
    { field: 'since' },
  );
}

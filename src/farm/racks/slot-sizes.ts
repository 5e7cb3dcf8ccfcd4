import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Standing } from '../../platform/seen.ts';
import type { Reader } from '../../platform/service.ts';
import { refuseConcerns } from '../tanks/concerns.ts';
import { placeConcerns } from '../tanks/rack-places.rules.ts';

const ofSite = (siteId: string) => ({ tank: { system: { siteId, retiredAt: null } } });

/** What sizes of slots set at once write over: the racks of the site, each with its version. */
export const slotSizeStanding = (siteId: string): Standing => ({
  what: 'racks of this site',
  read: ({ rack }) =>
    rack.findMany({
      where: ofSite(siteId),
      select: { id: true, version: true },
      orderBy: { id: 'asc' },
    }),
});

/** The racks of a site by tank, each with its grid and the size of its slots, mm. */
export function racksWithSlotSizes(db: Reader, siteId: string) {
  return db.rack.findMany({
    where: ofSite(siteId),
    select: {
      ...{ id: true, name: true, rows: true, columns: true, slotWidthMm: true, slotDepthMm: true },
      tank: { select: { name: true } },
    },
    orderBy: [
      { tank: { system: { position: 'asc' } } },
      { tank: { position: 'asc' } },
      { position: 'asc' },
      { name: 'asc' },
    ],
  });
}

/** One size for the slots of several racks, mm. */
export interface SlotSizes {
  racks: readonly string[];
  slotWidthMm: number;
  slotDepthMm: number;
  /** That the racks are that large, although one then sticks out of its tank or overlaps another. */
  sure: boolean;
}

/**
 * Sets the size of the slots of several racks of a site.
 * @returns how many racks
 * @throws Refusal 422 for a rack of another site, and where one would stick out or overlap and nobody said that it is so
 */
export async function setSlotSizes(
  work: Work,
  siteId: string,
  { racks: ids, sure, ...size }: SlotSizes,
): Promise<{ racks: number }> {
  const chosen = new Set(ids);
  const racks = await work.tx.rack.findMany({ where: ofSite(siteId), include: { tank: true } });
  const changed = racks.filter(({ id }) => chosen.has(id));
  if (changed.length < chosen.size)
    throw new Refusal('One of the racks is not at this site. Choose again.', { field: 'racks' });
  const after = racks.map((rack) => (chosen.has(rack.id) ? { ...rack, ...size } : rack));
  const concerns = after
    .filter(({ id }) => chosen.has(id))
    .flatMap((rack) =>
      placeConcerns(
        rack,
        rack.tank,
        after.filter((other) => other.tankId === rack.tankId && other.id !== rack.id),
      ).map((concern) => `${rack.name}: ${concern}`),
    );
  if (!sure) refuseConcerns(concerns);
  await work.tx.rack.updateMany({
    where: { id: { in: [...chosen] } },
    data: { ...size, version: { increment: 1 } },
  });
  for (const { id, name, slotWidthMm, slotDepthMm } of changed)
    work.record(
      'rack.changed',
      { type: 'rack', id },
      { before: { name, slotWidthMm, slotDepthMm }, after: { name, ...size } },
    );
  for (const systemId of new Set(changed.map(({ tank }) => tank.systemId))) work.reevaluate(systemId);
  return { racks: changed.length };
}

import type { Service } from '../../platform/service.ts';
import type { CardBox } from '../../science/photograph/card.ts';
import { aroundRack } from '../../science/photograph/reading/read.ts';
import { type LotInPhotograph, lotsInPhotograph } from './photographs.ts';

/** The outlines of a lot as they are kept, mm on the rack. */
export type Outlines = readonly (readonly [number, number][])[];

/** Outlines as one path of SVG, in mm on the rack. */
export const pathsOf = (outlines: Outlines | null): string =>
  (outlines ?? []).map((points) => `M${points.map(([x, y]) => `${x} ${y}`).join('L')}Z`).join('');

/** So large a slot is drawn at the least, px: a finger hits it (the house's touch targets). */
const LEAST_SLOT_PX = 48;

interface PhotographedRack {
  id: string;
  widthMm: number;
  depthMm: number;
  rack: { name: string; rows: number; columns: number };
}

/** A straightened rack with the outlines of its lots, each of which leads to where it is put right. */
export interface OutlinedRack {
  id: string;
  name: string;
  /** What the picture shows, mm on the rack. */
  box: CardBox;
  /** How wide it is drawn at the least, px. */
  leastWidth: number;
  lots: (LotInPhotograph & { paths: string; slotPaths: string; href: string })[];
}

/** @param lots those of the photograph; what was left out has no outline and is not among them */
export function outlinedRack(photograph: PhotographedRack, lots: readonly LotInPhotograph[]): OutlinedRack {
  const { widthMm: width, depthMm: depth, rack } = photograph;
  const box = aroundRack({ width, depth });
  const slot = { wide: width / rack.columns, deep: depth / rack.rows };
  return {
    ...{ id: photograph.id, name: rack.name, box },
    leastWidth: Math.ceil((LEAST_SLOT_PX * box.width) / Math.min(slot.wide, slot.deep)),
    lots: lots
      .filter(({ leftOut }) => leftOut === null)
      .map((lot) => ({
        ...lot,
        paths: pathsOf(lot.outline),
        slotPaths: slotPathsOf(lot.outline ?? [], slot),
        href: `/rack-photograph-lots/${lot.id}`,
      })),
  };
}

/** The slots in which a lot's outlines lie, as one path: a tap anywhere in one of them is meant for it. */
function slotPathsOf(outlines: Outlines, { wide, deep }: { wide: number; deep: number }): string {
  const corners = outlines.map((points) => {
    const mean = (k: 0 | 1) => points.reduce((sum, point) => sum + point[k], 0) / points.length;
    return [Math.floor(mean(0) / wide) * wide, Math.floor(mean(1) / deep) * deep].map((mm) => mm.toFixed(1));
  });
  const slots = new Set(
    corners.map(([x, y]) => `M${x} ${y}h${wide.toFixed(1)}v${deep.toFixed(1)}h-${wide.toFixed(1)}Z`),
  );
  return [...slots].join('');
}

/** The newest photograph of a rack that counts and whose straightened rack is kept, with its outlines; null where there is none. */
export async function lastOutlined(
  { db, pool }: Pick<Service, 'db' | 'pool'>,
  rackId: string,
): Promise<{ takenAt: Date; outlined: OutlinedRack } | null> {
  const last = await db.rackPhotograph.findFirst({
    where: { rackId, voidedAt: null, straight: { not: null } },
    orderBy: [{ takenAt: 'desc' }, { id: 'desc' }],
    select: {
      ...{ id: true, takenAt: true, widthMm: true, depthMm: true },
      rack: { select: { name: true, rows: true, columns: true } },
    },
  });
  if (last === null) return null;
  return { takenAt: last.takenAt, outlined: outlinedRack(last, await lotsInPhotograph(pool, last.id)) };
}

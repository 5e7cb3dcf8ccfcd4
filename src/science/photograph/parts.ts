import type { BaseColours } from './base.ts';
import { cardBoxes } from './card.ts';
import { fillHoles, type Mask, type Region, regionsOf, smoothed } from './regions.ts';
import { type Cells, LEAST_PART, type StraightRack } from './straight-rack.ts';

/** The largest hole that counts as a coral's own, mm2 (own choice). */
const LARGEST_HOLE = 8;

/** Where corals are: what has no colour of the base, is no card, and is large enough. */
export function coralMask(
  { even, box, pxPerMm, plane }: StraightRack,
  labs: Float32Array,
  base: BaseColours,
): Mask {
  const { width, height } = even;
  const on = new Uint8Array(width * height);
  for (let i = 0; i < on.length; i++) on[i] = base.has(labs, i) ? 0 : 1;
  for (const card of cardBoxes(plane)) {
    const left = Math.max(0, Math.round((card.x - box.x) * pxPerMm));
    const right = Math.min(width, Math.round((card.x + card.width - box.x) * pxPerMm));
    const top = Math.max(0, Math.round((card.y - box.y) * pxPerMm));
    const low = Math.min(height, Math.round((card.y + card.height - box.y) * pxPerMm));
    for (let y = top; y < low; y++)
      on.fill(0, y * width + left, Math.max(y * width + left, y * width + right));
  }
  return smoothed(smoothed({ width, height, on }));
}

/** The px of a lot, the lots that it touches, and whether it reaches beyond the picture. */
export interface Parts {
  px: number[];
  touches: string[];
  touchesEdge: boolean;
}

/** Shares the parts of the mask out among the lots: a part belongs to the lot whose slots it covers most. */
export function partsOfLots({ pxPerMm }: StraightRack, cells: Cells, mask: Mask): Map<string, Parts> {
  fillHoles(mask, LARGEST_HOLE * pxPerMm * pxPerMm);
  const parts = new Map<string, Parts>();
  const partsOf = (lot: string) => {
    const found = parts.get(lot) ?? { px: [], touches: [], touchesEdge: false };
    parts.set(lot, found);
    return found;
  };
  for (const region of regionsOf(mask, 1, LEAST_PART * pxPerMm * pxPerMm)) {
    const shares = sharesOf(region, cells);
    const [first] = shares;
    if (first === undefined) continue;
    const large = shares.filter(([, count]) => count > TOUCHING * region.px.length);
    const lots = large.map(([lot]) => lot);
    if (lots.length <= 1) {
      const own = partsOf(first[0]);
      for (const i of region.px) own.px.push(i);
      own.touchesEdge ||= region.touchesEdge;
      continue;
    }
    // Corals that touch are parted where their slots meet.
    for (const i of region.px) {
      const lot = lotAt(cells, i, lots);
      if (lot !== null) partsOf(lot).px.push(i);
    }
    for (const lot of lots) partsOf(lot).touches.push(...lots.filter((other) => other !== lot));
  }
  return parts;
}

/** From which share of a part on a second lot has a claim to it (own choice). */
const TOUCHING = 0.12;

/** How many px of each lot's slots a part covers, the most first. */
function sharesOf({ px }: Region, { of, lots }: Cells): [string, number][] {
  const covered = new Float64Array(lots.length);
  for (const i of px) {
    const cell = of[i] as number;
    if (cell >= 0) covered[cell] = (covered[cell] as number) + 1;
  }
  const counts = new Map<string, number>();
  for (const [cell, lot] of lots.entries())
    if (lot !== null && covered[cell] !== 0)
      counts.set(lot, (counts.get(lot) ?? 0) + (covered[cell] as number));
  return [...counts].sort((a, b) => b[1] - a[1]);
}

function lotAt({ of, lots }: Cells, i: number, claims: readonly string[]): string | null {
  const cell = of[i] as number;
  const lot = cell < 0 ? null : (lots[cell] ?? null);
  return lot !== null && claims.includes(lot) ? lot : null;
}

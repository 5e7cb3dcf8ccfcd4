import { labsOf, learnBase } from './base.ts';
import { basePlaces, takeOutCurve } from './base-light.ts';
import type { CardBox } from './card.ts';
import { measure } from './measure.ts';
import { coralMask, partsOfLots } from './parts.ts';
import { type Cells, cellsOf, type LotFace, type LotToRead, type StraightRack } from './straight-rack.ts';

/** Tells each lot from the base, and measures it. */
export function readLots(straight: StraightRack): LotFace[] {
  const cells = cellsOf(straight);
  const places = basePlaces(straight, cells);
  const spread = takeOutCurve(straight, cells, places);
  const labs = labsOf(straight.even.reflectance);
  const base = learnBase(labs, places.px, places.least);
  const mask = coralMask(straight, labs, base);
  const parts = partsOfLots(straight, cells, mask);
  return straight.rack.lots.map((lot) => {
    const own = parts.get(lot.id) ?? { px: [], touches: [], touchesEdge: false };
    return {
      id: lot.id,
      box: boxOf(straight, cells, lot, own.px),
      measured: measure(straight, labs, { lot, own, spread }),
    };
  });
}

/**
 * The part of the rack that shows a lot, with a little around it, mm: all of its slots where they lie side by side; else the
 * one of them that holds most of it, since other lots stand between.
 */
function boxOf(
  { even, box, pxPerMm, plane, rack }: StraightRack,
  cells: Cells,
  lot: LotToRead,
  px: readonly number[],
): CardBox {
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  const [rows, columns] = [lot.slots.map(({ row }) => row), lot.slots.map(({ column }) => column)];
  const isWhole =
    (Math.max(...rows) - Math.min(...rows) + 1) * (Math.max(...columns) - Math.min(...columns) + 1) ===
    lot.slots.length;
  const slotOf = ({ row, column }: LotToRead['slots'][number]) => row * rack.columns + column;
  const counts = new Map<number, number>();
  for (const i of px) counts.set(cells.of[i] as number, (counts.get(cells.of[i] as number) ?? 0) + 1);
  const fullest = lot.slots.toSorted(
    (a, b) => (counts.get(slotOf(b)) ?? 0) - (counts.get(slotOf(a)) ?? 0),
  )[0];
  const shown = isWhole || fullest === undefined ? lot.slots : [fullest];
  let [left, right] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
  let [top, low] = [left, right];
  const take = (x: number, y: number) => {
    [left, right] = [Math.min(left, x), Math.max(right, x)];
    [top, low] = [Math.min(top, y), Math.max(low, y)];
  };
  for (const { row, column } of shown) {
    take(column * wide, row * high);
    take((column + 1) * wide, (row + 1) * high);
  }
  if (shown === lot.slots)
    for (const i of px)
      take(box.x + (i % even.width) / pxPerMm, box.y + Math.floor(i / even.width) / pxPerMm);
  return { x: left - 3, y: top - 3, width: right - left + 6, height: low - top + 6 };
}

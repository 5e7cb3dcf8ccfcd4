import { labsOf, learnBase } from './base.ts';
import { cardBoxes } from './card.ts';
import { curvedLight, type LightSample } from './evenness.ts';
import { channelOf, medianOf } from './image.ts';
import type { Cells, StraightRack } from './straight-rack.ts';

/** Places that show base alone: the numbers of their px, and how many places must have a colour for it to be the base's. */
export interface BasePlaces {
  px: Int32Array[];
  least: number;
}

/** The empty slots; where there are too few, the seams between the others as well. */
export function basePlaces(straight: StraightRack, { of, lots }: Cells): BasePlaces {
  const { even, rack, box, pxPerMm, plane } = straight;
  const empty = sortedOut(of, lots.length, (_, cell) => lots[cell] === null);
  if (empty.length >= 3) return { px: empty, least: 2 };
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  const seams = sortedOut(of, lots.length, (i, cell) => {
    const right = ((box.x + ((i % even.width) + 0.5) / pxPerMm) / wide) % 1;
    const down = ((box.y + (Math.floor(i / even.width) + 0.5) / pxPerMm) / high) % 1;
    const side = Math.min(Math.min(right, 1 - right) * wide, Math.min(down, 1 - down) * high);
    return lots[cell] !== null && side < 1.5;
  });
  const all = [...empty, ...seams];
  return { px: all, least: Math.max(2, Math.round(all.length / 5)) };
}

/** Sorts px out by their cell, those that are wanted. @returns the numbers of the px of each cell that has any */
function sortedOut(
  of: Int32Array,
  cells: number,
  isWanted: (i: number, cell: number) => boolean,
): Int32Array[] {
  const wanted = new Uint8Array(of.length);
  const counts = new Int32Array(cells);
  for (let i = 0; i < of.length; i++) {
    const cell = of[i] as number;
    if (cell < 0 || !isWanted(i, cell)) continue;
    wanted[i] = 1;
    counts[cell] = (counts[cell] as number) + 1;
  }
  const lists = Array.from(counts, (count) => new Int32Array(count));
  for (let i = of.length - 1; i >= 0; i--) {
    if (wanted[i] !== 1) continue;
    const cell = of[i] as number;
    counts[cell] = (counts[cell] as number) - 1;
    (lists[cell] as Int32Array)[counts[cell] as number] = i;
  }
  return lists.filter((list) => list.length > 0);
}

/**
 * Takes out of the colours what the cards cannot know of the light between them, by the base of all slots.
 * @returns how uneven the base is still, as a share of its brightness
 */
export function takeOutCurve(straight: StraightRack, { of, lots }: Cells, places: BasePlaces): number {
  const { even, box, pxPerMm, plane } = straight;
  // Every second px of every second row tells light as well.
  const isSampled = (i: number) => i % 2 === 0 && Math.floor(i / even.width) % 2 === 0;
  const labs = labsOf(even.reflectance, { width: even.width, step: 2 });
  const px = places.px.map((place) => place.filter(isSampled));
  const base = learnBase(labs, px, places.least);
  const at = (i: number) => ({
    u: (2 * (box.x + (i % even.width) / pxPerMm)) / plane.width - 1,
    v: (2 * (box.y + Math.floor(i / even.width) / pxPerMm)) / plane.depth - 1,
  });
  const bright = brightBase(labs, px);
  const slots = sortedOut(
    of,
    lots.length,
    (i) => isSampled(i) && (labs[3 * i] as number) >= bright && base.has(labs, i),
  );
  const samples: LightSample[] = slots
    .filter((own) => own.length >= 10)
    .map((own) => ({ ...at(own[own.length >> 1] as number), share: middleLight(even.reflectance, own) }));
  const cards = cardBoxes(plane).map(({ x, y, width, height }) => ({
    u: (2 * (x + width / 2)) / plane.width - 1,
    v: (2 * (y + height / 2)) / plane.depth - 1,
  }));
  const curve = curvedLight(samples, cards);
  if (Number.isNaN(curve.spread)) return UNKNOWN_SPREAD;
  for (let y = 0; y < even.height; y += BLOCK)
    for (let x = 0; x < even.width; x += BLOCK) {
      const { u, v } = at((y + BLOCK / 2) * even.width + x + BLOCK / 2);
      const factors = curve.at(u, v).map((value) => Math.exp(-value));
      for (let row = y; row < Math.min(even.height, y + BLOCK); row++)
        for (let column = x; column < Math.min(even.width, x + BLOCK); column++)
          for (let k = 0; k < 3; k++) {
            const i = 3 * (row * even.width + column) + k;
            even.reflectance[i] = (even.reflectance[i] as number) * (factors[k] as number);
          }
    }
  return curve.spread;
}

/** The light changes so little over so many px that one value does. */
const BLOCK = 8;
/** How uneven the light may be where no base tells, as a share (own choice). */
const UNKNOWN_SPREAD = 0.08;

/** From which lightness on base is its bright part: a grid is bright lines and dark holes (Otsu 1979); 0 where it is of one kind. */
function brightBase(labs: Float32Array, places: readonly Int32Array[]): number {
  const counts = new Float64Array(128);
  let all = 0;
  for (const px of places) {
    for (const i of px) {
      const step = Math.min(127, Math.max(0, Math.round(labs[3 * i] as number)));
      counts[step] = (counts[step] as number) + 1;
    }
    all += px.length;
  }
  let [best, limit, apart] = [0, 0, 0];
  let [below, sumBelow] = [0, 0];
  const sum = counts.reduce((total, count, L) => total + count * L, 0);
  for (const [L, count] of counts.entries()) {
    below += count;
    sumBelow += count * L;
    const above = all - below;
    if (below === 0 || above === 0) continue;
    const difference = (sum - sumBelow) / above - sumBelow / below;
    const score = below * above * difference * difference;
    if (score > best) [best, limit, apart] = [score, L, difference];
  }
  return apart > 20 ? limit : 0;
}

function middleLight(reflectance: Float32Array, px: Int32Array): [number, number, number] {
  const of = (k: number) => Math.log(Math.max(1e-3, medianOf(channelOf(reflectance, px, k))));
  return [of(0), of(1), of(2)];
}

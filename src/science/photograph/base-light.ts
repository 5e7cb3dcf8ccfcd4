import { labsOf, learnBase } from './base.ts';
import { cardBoxes } from './card.ts';
import { curvedLight, type LightSample } from './evenness.ts';
import { medianOf } from './image.ts';
import type { Cells, StraightRack } from './straight-rack.ts';

/** Places that show base alone: the empty slots; where there are too few, the margins and the seams between slots. */
export function basePlaces(straight: StraightRack, { of, lots }: Cells): { px: number[][]; least: number } {
  const { even, rack, box, pxPerMm, plane } = straight;
  const empty = new Map<number, number[]>();
  const seams = new Map<number, number[]>();
  const [high, wide] = [plane.depth / rack.rows, plane.width / rack.columns];
  for (const [i, cell] of of.entries()) {
    if (cell < 0) continue;
    const x = box.x + ((i % even.width) + 0.5) / pxPerMm;
    const y = box.y + (Math.floor(i / even.width) + 0.5) / pxPerMm;
    const [right, down] = [(x / wide) % 1, (y / high) % 1];
    const side = Math.min(Math.min(right, 1 - right) * wide, Math.min(down, 1 - down) * high);
    const into = lots[cell] === null ? empty : side < 1.5 ? seams : null;
    if (into === null) continue;
    const list = into.get(cell);
    if (list === undefined) into.set(cell, [i]);
    else list.push(i);
  }
  if (empty.size >= 3) return { px: [...empty.values()], least: 2 };
  const all = [...empty.values(), ...seams.values()];
  return { px: all, least: Math.max(2, Math.round(all.length / 5)) };
}

/**
 * Takes out of the colours what the cards cannot know of the light between them, by the base of all slots.
 * @returns how uneven the base is still, as a share of its brightness
 */
export function takeOutCurve(
  straight: StraightRack,
  { of }: Cells,
  places: { px: number[][]; least: number },
): number {
  const { even, box, pxPerMm, plane } = straight;
  const labs = labsOf(even.reflectance);
  const base = learnBase(labs, places.px, places.least);
  const at = (i: number) => ({
    u: (2 * (box.x + (i % even.width) / pxPerMm)) / plane.width - 1,
    v: (2 * (box.y + Math.floor(i / even.width) / pxPerMm)) / plane.depth - 1,
  });
  const bright = brightBase(labs, places.px.flat());
  const slots = new Map<number, number[]>();
  for (const [i, cell] of of.entries()) {
    if (cell < 0 || (labs[3 * i] as number) < bright || !base.has(labs, i)) continue;
    const list = slots.get(cell);
    if (list === undefined) slots.set(cell, [i]);
    else list.push(i);
  }
  const samples: LightSample[] = [...slots.values()]
    .filter((px) => px.length >= 40)
    .map((px) => ({ ...at(px[px.length >> 1] as number), share: middleLight(even.reflectance, px) }));
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
function brightBase(labs: Float32Array, px: readonly number[]): number {
  const counts = new Float64Array(128);
  for (const i of px) {
    const step = Math.min(127, Math.max(0, Math.round(labs[3 * i] as number)));
    counts[step] = (counts[step] as number) + 1;
  }
  let [best, limit, apart] = [0, 0, 0];
  let [below, sumBelow] = [0, 0];
  const sum = counts.reduce((total, count, L) => total + count * L, 0);
  for (const [L, count] of counts.entries()) {
    below += count;
    sumBelow += count * L;
    const above = px.length - below;
    if (below === 0 || above === 0) continue;
    const difference = (sum - sumBelow) / above - sumBelow / below;
    const score = below * above * difference * difference;
    if (score > best) [best, limit, apart] = [score, L, difference];
  }
  return apart > 20 ? limit : 0;
}

function middleLight(reflectance: Float32Array, px: readonly number[]): [number, number, number] {
  const of = (k: number) =>
    Math.log(Math.max(1e-3, medianOf(px.map((i) => reflectance[3 * i + k] as number))));
  return [of(0), of(1), of(2)];
}

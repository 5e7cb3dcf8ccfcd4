import { quickLabOf } from './colour.ts';
import { clamp } from './image.ts';

/** Width of a step of colour, L*a*b* units; how many there are of each (own choices). */
const STEP = 3;
const [LIGHTNESSES, HUES] = [40, 48];

/** The step of colour of px number i. */
function binOf(labs: Float32Array, i: number): number {
  const L = clamp(Math.floor((labs[3 * i] as number) / STEP), 0, LIGHTNESSES - 1);
  const a = clamp(Math.floor((labs[3 * i + 1] as number) / STEP) + HUES / 2, 0, HUES - 1);
  const b = clamp(Math.floor((labs[3 * i + 2] as number) / STEP) + HUES / 2, 0, HUES - 1);
  return (L * HUES + a) * HUES + b;
}

/** L*a*b* of each px, three values a px; of every so many px of every so many rows alone where a step is given. */
export function labsOf(
  reflectance: Float32Array,
  { width, step }: { width: number; step: number } = { width: reflectance.length / 3, step: 1 },
): Float32Array {
  const labs = new Float32Array(reflectance.length);
  for (let row = 0; row < labs.length; row += 3 * width * step)
    for (let i = row; i < row + 3 * width; i += 3 * step) {
      const r = reflectance[i] as number;
      const { L, a, b } = quickLabOf(r, reflectance[i + 1] as number, reflectance[i + 2] as number);
      labs[i] = L;
      labs[i + 1] = a;
      labs[i + 2] = b;
    }
  return labs;
}

/** Which colours are those of the base. */
export interface BaseColours {
  /** Whether px number i is of such a colour. */
  has(labs: Float32Array, i: number): boolean;
}

/** A colour belongs to the base where so large a share of all examples has it or one beside it, and of one place (own choices). */
const [LEAST_SHARE, LEAST_OF_PLACE] = [4e-4, 3e-3];

/**
 * Learns the colours of the base from places that show nothing else. A colour counts only where several places have it, so
 * that a coral that leans into one of them is not taken for base.
 * @param places numbers of the px of each place
 * @param least how many places must have a colour
 */
export function learnBase(labs: Float32Array, places: readonly Int32Array[], least: number): BaseColours {
  const counts = new Float32Array(LIGHTNESSES * HUES * HUES);
  const having = new Float32Array(counts.length);
  let all = 0;
  for (const place of places) {
    const own = new Map<number, number>();
    for (const i of place) {
      const bin = binOf(labs, i);
      own.set(bin, (own.get(bin) ?? 0) + 1);
    }
    for (const [bin, count] of own) {
      counts[bin] = (counts[bin] as number) + count;
      if (count >= LEAST_OF_PLACE * place.length) having[bin] = (having[bin] as number) + 1;
    }
    all += place.length;
  }
  const [near, nearPlaces] = [spreadOut(counts), spreadOut(having)];
  const enough = Math.max(4, LEAST_SHARE * all);
  const isBase = near.map((count, bin) => (count >= enough && (nearPlaces[bin] as number) >= least ? 1 : 0));
  return { has: (of, i) => isBase[binOf(of, i)] === 1 };
}

/** Each step of colour with those beside it: in lightness two to each side, since shade and light vary most. */
function spreadOut(counts: Float32Array): Float32Array {
  let from = counts;
  for (const [stride, count, reach] of [
    [HUES * HUES, LIGHTNESSES, 2],
    [HUES, HUES, 1],
    [1, HUES, 1],
  ] as const) {
    const to = new Float32Array(from.length);
    for (let i = 0; i < from.length; i++) {
      const value = from[i] as number;
      if (value === 0) continue;
      const place = Math.floor(i / stride) % count;
      for (let off = -reach; off <= reach; off++)
        if (place + off >= 0 && place + off < count)
          to[i + off * stride] = (to[i + off * stride] as number) + value;
    }
    from = to;
  }
  return from;
}

import type { Evened } from './evenness.ts';
import { inner, type Mask } from './regions.ts';

/** So many px are kept around what is cut out, and looked at for the colours to both sides of a border. */
const AROUND = 5;

/** Some px of a wide picture as a mask of their own, with a little around them. */
export interface CutOut {
  mask: Mask;
  left: number;
  top: number;
  /** The number in the whole picture of px number i of the mask. */
  inWhole(i: number): number;
}

/** @param wide how many px the whole picture is wide */
export function cutOut(px: readonly number[], wide: number): CutOut {
  let [left, right, top, low] = [wide, 0, Number.MAX_SAFE_INTEGER, 0];
  for (const i of px) {
    const [x, y] = [i % wide, Math.floor(i / wide)];
    [left, right] = [Math.min(left, x), Math.max(right, x)];
    [top, low] = [Math.min(top, y), Math.max(low, y)];
  }
  [left, top] = [left - AROUND, top - AROUND];
  const [width, height] = [right - left + 1 + AROUND, low - top + 1 + AROUND];
  const mask: Mask = { width, height, on: new Uint8Array(width * height) };
  for (const i of px) mask.on[(Math.floor(i / wide) - top) * width + (i % wide) - left] = 1;
  const inWhole = (i: number) => (Math.floor(i / width) + top) * wide + (i % width) + left;
  return { mask, left, top, inWhole };
}

/**
 * How much of each px a coral covers, from 0 to 1. Along its border a px shows a mixture: its share is read from the colours
 * of the coral and the base to both sides (in linear light, where they mix on a straight line).
 */
export function coverOf(cut: CutOut, even: Evened): Float32Array {
  const { width, height, on } = cut.mask;
  const cover = Float32Array.from(on);
  const core = inner(cut.mask, 2).on;
  const outer = inner({ width, height, on: on.map((value) => 1 - value) }, 2).on;
  const light = lightOf(cut, even);
  const [coralAround, baseAround] = [sumsOf(core, light, width), sumsOf(outer, light, width)];
  const [coral, base] = [new Float64Array(3), new Float64Array(3)];
  for (let y = 2; y < height - 2; y++)
    for (let x = 2; x < width - 2; x++) {
      const at = y * width + x;
      if (core[at] === 1 || outer[at] === 1) continue;
      const own = 3 * at;
      if (
        Number.isNaN(light[own]) ||
        !meanAround(coralAround, x, y, coral) ||
        !meanAround(baseAround, x, y, base)
      )
        continue;
      let [along, length] = [0, 0];
      for (let k = 0; k < 3; k++) {
        const apart = (coral[k] as number) - (base[k] as number);
        along += apart * ((light[own + k] as number) - (base[k] as number));
        length += apart * apart;
      }
      if (length >= LEAST_APART) cover[at] = Math.min(1, Math.max(0, along / length));
    }
  return cover;
}

/** Colours that are no further apart than this (squared, in linear light) tell no share. */
const LEAST_APART = 0.002;

/** Linear light of the px of a cut-out; NaN beyond the picture. */
function lightOf({ mask, inWhole }: CutOut, { reflectance }: Evened): Float32Array {
  const light = new Float32Array(3 * mask.on.length);
  for (let i = 0; i < mask.on.length; i++) {
    const from = 3 * inWhole(i);
    for (let k = 0; k < 3; k++) light[3 * i + k] = reflectance[from + k] ?? Number.NaN;
  }
  return light;
}

/** Sums over all px above and to the left that belong to a mask: of their light and how many they are (Crow 1984). */
interface Sums {
  of: Float64Array;
  width: number;
  height: number;
}

function sumsOf(on: Uint8Array, light: Float32Array, width: number): Sums {
  const height = on.length / width;
  const wide = width + 1;
  const of = new Float64Array(4 * wide * (height + 1));
  for (let y = 0; y < height; y++) {
    const row = new Float64Array(4);
    for (let x = 0; x < width; x++) {
      const i = y * width + x;
      if (on[i] === 1 && !Number.isNaN(light[3 * i])) {
        for (let k = 0; k < 3; k++) row[k] = (row[k] as number) + (light[3 * i + k] as number);
        row[3] = (row[3] as number) + 1;
      }
      const [to, above] = [4 * ((y + 1) * wide + x + 1), 4 * (y * wide + x + 1)];
      for (let k = 0; k < 4; k++) of[to + k] = (of[above + k] as number) + (row[k] as number);
    }
  }
  return { of, width, height };
}

/** The mean light around a place. @returns false where too few px tell it */
function meanAround({ of, width, height }: Sums, x: number, y: number, into: Float64Array): boolean {
  const wide = width + 1;
  const [left, right] = [Math.max(0, x - AROUND), Math.min(width, x + AROUND + 1)];
  const [top, low] = [Math.max(0, y - AROUND), Math.min(height, y + AROUND + 1)];
  const sum = (k: number) =>
    (of[4 * (low * wide + right) + k] as number) -
    (of[4 * (top * wide + right) + k] as number) -
    (of[4 * (low * wide + left) + k] as number) +
    (of[4 * (top * wide + left) + k] as number);
  const count = sum(3);
  if (count < 4) return false;
  for (let k = 0; k < 3; k++) into[k] = sum(k) / count;
  return true;
}

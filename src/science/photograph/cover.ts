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
 * How much of each px a coral covers: 1 within, 0 beyond. Along its border a px shows a mixture, and its share is read from
 * the colours of the coral and the base to both sides (in linear light, where they mix on a straight line). A share may come
 * out below 0 or above 1, as the base's own grain has it: cut off there, all shares together would be too many.
 */
function coverOf(cut: CutOut, even: Evened): Float32Array {
  const { width, height, on } = cut.mask;
  const cover = Float32Array.from(on);
  const core = inner(cut.mask, 2).on;
  const outer = inner({ width, height, on: on.map((value) => 1 - value) }, 2).on;
  const light = lightOf(cut, even);
  const { bright, dark } = splitBase(outer, light);
  const [coralAround, brightAround, darkAround] = [core, bright, dark].map((px) =>
    sumsOf(px, light, width),
  ) as [Sums, Sums, Sums];
  const [coral, first, second] = [new Float64Array(3), new Float64Array(3), new Float64Array(3)];
  for (let y = 2; y < height - 2; y++)
    for (let x = 2; x < width - 2; x++) {
      const at = y * width + x;
      if (core[at] === 1 || outer[at] === 1 || Number.isNaN(light[3 * at])) continue;
      const hasDark = meanAround(darkAround, x, y, first);
      const hasBright = meanAround(brightAround, x, y, hasDark ? second : first);
      if ((!hasDark && !hasBright) || !meanAround(coralAround, x, y, coral)) continue;
      const colours = { coral, dark: first, bright: hasDark && hasBright ? second : null };
      const likely = { cover: shareAround(on, at, width), bright: brightNear(bright, dark, at, width) };
      const share = shareOf(light.subarray(3 * at, 3 * at + 3), colours, likely);
      cover[at] = Math.min(1 + BEYOND, Math.max(-BEYOND, share));
    }
  return cover;
}

/**
 * How much of each px a coral covers, worked out again from the mask that the first look gives: what is thought of a px before
 * its light is looked at follows its mask, and that of whatever is not base is a little too wide.
 */
export function finerCover(cut: CutOut, even: Evened): Float32Array {
  let cover = coverOf(cut, even);
  for (let look = 1; look < LOOKS; look++) cover = coverOf({ ...cut, mask: maskOf(cut.mask, cover) }, even);
  return cover;
}

/** So many looks (own choice: a fourth moves nothing). */
const LOOKS = 3;

/** The px that are covered by half and more. */
export const maskOf = ({ width, height }: Mask, cover: Float32Array): Mask => ({
  ...{ width, height },
  on: Uint8Array.from(cover, (value) => (value >= 0.5 ? 1 : 0)),
});

/** A share is let so far beyond 0 and 1 (own choice). */
const BEYOND = 0.5;
/** From which difference of its roots of brightness on a base is of two kinds, as a grid's bright bars and dark holes (own choice). */
const TWO_KINDS = 0.2;

/** The base around a coral as its bright and its dark px (Otsu 1979, on the root of brightness); all are dark where it is of one kind. */
function splitBase(outer: Uint8Array, light: Float32Array): { bright: Uint8Array; dark: Uint8Array } {
  const rootOf = (i: number) => {
    const [r, g, b] = [light[3 * i] as number, light[3 * i + 1] as number, light[3 * i + 2] as number];
    return Math.sqrt(Math.max(0, 0.2126 * r + 0.7152 * g + 0.0722 * b));
  };
  const px = [...outer.keys()].filter((i) => outer[i] === 1 && !Number.isNaN(light[3 * i]));
  const roots = Float64Array.from(px, rootOf).sort();
  const all = roots.reduce((sum, root) => sum + root, 0);
  let [best, limit, below] = [0, Number.POSITIVE_INFINITY, 0];
  for (let n = 1; n < roots.length; n++) {
    below += roots[n - 1] as number;
    const apart = (all - below) / (roots.length - n) - below / n;
    const score = n * (roots.length - n) * apart * apart;
    if (score > best)
      [best, limit] = [score, apart > TWO_KINDS ? (roots[n] as number) : Number.POSITIVE_INFINITY];
  }
  const [bright, dark] = [new Uint8Array(outer.length), new Uint8Array(outer.length)];
  for (const i of px) (rootOf(i) >= limit ? bright : dark)[i] = 1;
  return { bright, dark };
}

/** The share of the nine px around a place that belong to a mask. */
function shareAround(on: Uint8Array, at: number, width: number): number {
  let count = 0;
  for (let row = at - width; row <= at + width; row += width)
    for (let i = row - 1; i <= row + 1; i++) count += on[i] as number;
  return count / 9;
}

/** How much of the base beneath a px is thought bright, by the px of the base nearby; half where none is near. */
function brightNear(bright: Uint8Array, dark: Uint8Array, at: number, width: number): number {
  let [some, all] = [0, 0];
  for (let down = -3; down <= 3; down++)
    for (let right = -3; right <= 3; right++) {
      const i = at + down * width + right;
      const weight = 1 / (1 + down * down + right * right);
      some += weight * (bright[i] ?? 0);
      all += weight * ((bright[i] ?? 0) + (dark[i] ?? 0));
    }
  return all === 0 ? 0.5 : some / all;
}

/**
 * How well the light of a px is thought to tell: what is thought of its cover by the mask, and of the base beneath it, weighs
 * as much as light that is off by so much (own choices, linear light).
 */
const [BY_MASK, BY_NEIGHBOURS] = [0.03, 0.15];

/**
 * The share of coral in a px whose light is a mixture of coral, dark base and bright base, by least squares. Where the colours
 * tell it badly, what is likely decides.
 */
function shareOf(
  light: Float32Array,
  { coral, dark, bright }: { coral: Float64Array; dark: Float64Array; bright: Float64Array | null },
  likely: { cover: number; bright: number },
): number {
  let [coralCoral, coralBright, brightBright, coralLight, brightLight] = [0, 0, 0, 0, 0];
  for (let k = 0; k < 3; k++) {
    const from = dark[k] as number;
    const ofCoral = (coral[k] as number) - from;
    const ofBright = bright === null ? 0 : (bright[k] as number) - from;
    const own = (light[k] as number) - from;
    coralCoral += ofCoral * ofCoral;
    coralBright += ofCoral * ofBright;
    brightBright += ofBright * ofBright;
    coralLight += ofCoral * own;
    brightLight += ofBright * own;
  }
  const mask = BY_MASK ** 2;
  if (bright === null) return (coralLight + mask * likely.cover) / (coralCoral + mask);
  // Unknown are the coral's share c and the bright base's share u, of which (1 - c) times the likely share is expected.
  const near = BY_NEIGHBOURS ** 2;
  const [a, b, d] = [
    coralCoral + near * likely.bright ** 2 + mask,
    coralBright + near * likely.bright,
    brightBright + near,
  ];
  const [right, low] = [
    coralLight + near * likely.bright ** 2 + mask * likely.cover,
    brightLight + near * likely.bright,
  ];
  return (right * d - low * b) / (a * d - b * b);
}

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

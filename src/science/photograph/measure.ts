import type { CardBox, Point } from './card.ts';
import { ciede2000, type Lab } from './colour.ts';
import type { Evened } from './evenness.ts';
import { planarArea } from './height.ts';
import { medianOf } from './image.ts';
import { borderOf, simplified } from './outline.ts';
import type { Parts } from './parts.ts';
import { inner, type Mask, regionsOf } from './regions.ts';
import { LEAST_PART, type LotFace, type LotToRead, type StraightRack } from './straight-rack.ts';

/** Where more of a lot than this is clipped, its colour is not known. */
const MOST_CLIPPED = 0.03;

/** Colour, area and outlines of a lot by its px, or why there are none. */
export function measure(
  straight: StraightRack,
  labs: Float32Array,
  { lot, own, spread }: { lot: LotToRead; own: Parts; spread: number },
): LotFace['measured'] {
  const { even, pxPerMm, box, clipped } = straight;
  const perMm2 = pxPerMm * pxPerMm;
  if (own.px.length < LEAST_PART * perMm2) return { why: 'not told from the base' };
  if (own.touchesEdge) return { why: 'beyond the picture' };
  if (own.px.filter((i) => clipped[i] === 1).length > MOST_CLIPPED * own.px.length) return { why: 'glare' };
  const local = cutOut(own.px, even.width);
  const cover = coverOf(local, even, own.touches.length > 0);
  const count = cover.reduce((sum, value) => sum + value, 0);
  const mask = { ...local.mask, on: Uint8Array.from(cover, (value) => (value >= 0.5 ? 1 : 0)) };
  const first = inner(mask, 1);
  const border = sumOf(mask.on) - sumOf(first.on);
  const within = inner(first, 1);
  const whole = [...mask.on.keys()].filter((i) => within.on[i] === 1);
  const inside = whole.length >= 30 ? whole : [...mask.on.keys()].filter((i) => mask.on[i] === 1);
  const px = inside.map(local.inWhole);
  const channel = (k: number) => px.map((i) => labs[3 * i + k] as number);
  const [L, a, b] = [medianOf(channel(0)), medianOf(channel(1)), medianOf(channel(2))];
  if (baseBeside(local, labs, { L, a, b }) < LEAST_APART) return { why: 'not told from the base' };
  const scatter = medianOf(channel(0).map((value) => Math.abs(value - L))) * 1.4826;
  return {
    whiteness: { L, a, b, uncertainty: whitenessUncertainty(L, scatter, px.length, spread) },
    area: planarArea(
      {
        area: count / perMm2,
        uncertainty: (BORDER_OFF * border) / count + (own.touches.length > 0 ? TOUCHING_OFF : 0),
        middle: middleOf(local, box, pxPerMm),
      },
      lot.height,
      straight.camera,
    ),
    outlines: outlinesOf(mask, LEAST_PART * perMm2).map((outline) =>
      simplified(outline, SMOOTH * pxPerMm).map(({ x, y }) => ({
        x: box.x + (x + local.left) / pxPerMm,
        y: box.y + (y + local.top) / pxPerMm,
      })),
    ),
    touches: [...new Set(own.touches)],
  };
}

/** An outline is drawn as finely as this, mm; it is off by so many px all along (own choices). */
const [SMOOTH, BORDER_OFF] = [0.5, 0.2];

/** A coral that looks so little unlike the base beside it has no outline to rely on, CIEDE2000 (own choice). */
const LEAST_APART = 3;

/** How different a coral looks from the base around it. */
function baseBeside({ mask, inWhole }: ReturnType<typeof cutOut>, labs: Float32Array, own: Lab): number {
  const beside = [...mask.on.keys()].filter((i) => mask.on[i] === 0).map(inWhole);
  const channel = (k: number) => medianOf(beside.flatMap((i) => labs[3 * i + k] ?? []));
  return ciede2000(own, { L: channel(0), a: channel(1), b: channel(2) });
}

const middleOf = ({ mask, left, top }: ReturnType<typeof cutOut>, box: CardBox, pxPerMm: number): Point => ({
  x: box.x + (left + mask.width / 2) / pxPerMm,
  y: box.y + (top + mask.height / 2) / pxPerMm,
});

const sumOf = (values: Uint8Array) => values.reduce((sum, value) => sum + value, 0);

/** So many px are kept around what is cut out, and looked at for the colours to both sides of a border. */
const AROUND = 5;

/** Some px of a wide picture as a mask of their own, with a little around them. */
function cutOut(px: readonly number[], wide: number) {
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
function coverOf({ mask, inWhole }: ReturnType<typeof cutOut>, even: Evened, touches: boolean): Float32Array {
  const { width, height, on } = mask;
  const cover = Float32Array.from(on);
  if (touches) return cover;
  const core = inner(mask, 2).on;
  const outer = inner({ width, height, on: Uint8Array.from(on, (value) => 1 - value) }, 2).on;
  for (let y = 2; y < height - 2; y++)
    for (let x = 2; x < width - 2; x++) {
      const at = y * width + x;
      if (core[at] === 1 || outer[at] === 1) continue;
      const [coral, base] = [meanAround(core, x, y), meanAround(outer, x, y)];
      const own = colourAt(at);
      if (coral === null || base === null || own === null) continue;
      const apart = coral.map((value, k) => value - (base[k] as number));
      const length = apart.reduce((sum, value) => sum + value * value, 0);
      if (length < 0.002) continue;
      const along = apart.reduce(
        (sum, value, k) => sum + value * ((own[k] as number) - (base[k] as number)),
        0,
      );
      cover[at] = Math.min(1, Math.max(0, along / length));
    }
  return cover;

  function colourAt(i: number): number[] | null {
    const whole = 3 * inWhole(i);
    const value = even.reflectance[whole];
    if (value === undefined) return null;
    return [value, even.reflectance[whole + 1] as number, even.reflectance[whole + 2] as number];
  }

  function meanAround(of: Uint8Array, x: number, y: number): number[] | null {
    const sum = [0, 0, 0];
    let count = 0;
    for (let j = Math.max(0, y - AROUND); j <= Math.min(height - 1, y + AROUND); j++)
      for (let i = Math.max(0, x - AROUND); i <= Math.min(width - 1, x + AROUND); i++) {
        if (of[j * width + i] !== 1) continue;
        const colour = colourAt(j * width + i);
        if (colour === null) continue;
        for (let k = 0; k < 3; k++) sum[k] = (sum[k] as number) + (colour[k] as number);
        count++;
      }
    return count < 4 ? null : sum.map((value) => value / count);
  }
}

/** The borders of the parts of a mask that are large enough, the largest first. */
const outlinesOf = (mask: Mask, least: number): Point[][] =>
  regionsOf(mask, 1, least).map(({ px }) => borderOf(mask, px[0] as number));

/** Parted where slots meet, an outline may be off by so large a share (own choice). */
const TOUCHING_OFF = 0.05;

/** L* by the scatter over the coral, of which neighbours share most, and by what is left of uneven light (the slope of CIE 15). */
function whitenessUncertainty(L: number, scatter: number, count: number, spread: number): number {
  const slope = (L + 16) / 3;
  return Math.hypot((1.25 * scatter) / Math.sqrt(Math.max(1, count / 20)), slope * spread, 0.3);
}

import type { CardBox, Point } from './card.ts';
import { ciede2000, type Lab } from './colour.ts';
import { type CutOut, cutOut, finerCover, maskOf } from './cover.ts';
import { planarArea } from './height.ts';
import { channelOf, medianOf } from './image.ts';
import type { Parts } from './parts.ts';
import { borderOf, inner, type Mask, regionsOf, simplified } from './regions.ts';
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
  // Where corals touch, the base is not to both sides.
  const cover = own.touches.length > 0 ? Float32Array.from(local.mask.on) : finerCover(local, even);
  const count = cover.reduce((sum, value) => sum + value, 0);
  const mask = maskOf(local.mask, cover);
  const first = inner(mask, 1);
  const border = sumOf(mask.on) - sumOf(first.on);
  const within = inner(first, 1);
  const whole = pxOf(within.on, 1);
  const px = (whole.length >= 30 ? whole : pxOf(mask.on, 1)).map(local.inWhole);
  const channel = (k: number) => channelOf(labs, px, k);
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
function baseBeside({ mask, inWhole }: CutOut, labs: Float32Array, own: Lab): number {
  const beside = pxOf(mask.on, 0).map(inWhole);
  const there = beside.filter((i) => labs[3 * i] !== undefined);
  const channel = (k: number) => medianOf(channelOf(labs, there, k));
  return ciede2000(own, { L: channel(0), a: channel(1), b: channel(2) });
}

/** The numbers of the px of a mask that are `value`. */
function pxOf(on: Uint8Array, value: 0 | 1): number[] {
  const px: number[] = [];
  for (let i = 0; i < on.length; i++) if (on[i] === value) px.push(i);
  return px;
}

const middleOf = ({ mask, left, top }: CutOut, box: CardBox, pxPerMm: number): Point => ({
  x: box.x + (left + mask.width / 2) / pxPerMm,
  y: box.y + (top + mask.height / 2) / pxPerMm,
});

const sumOf = (values: Uint8Array) => values.reduce((sum, value) => sum + value, 0);

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

import { Matrix, solve } from 'ml-matrix';
import { CARD, type CardBox, CORNERS, type Corner, cardPlace } from './card.ts';
import { medianOf } from './image.ts';
import type { CardLight } from './patches.ts';
import type { Straight } from './straighten.ts';

/** The middle of a card's white patch, mm on the card: where its light is known. */
const WHITE = {
  x: CARD.patches.white.x + CARD.patches.white.width / 2,
  y: CARD.patches.white.y + CARD.patches.white.height / 2,
};

/** A rack's colours as against the white of its cards under even light. */
export interface Evened {
  width: number;
  height: number;
  /** Three values a px, red, green and blue; the cards' white is 1. */
  reflectance: Float32Array;
}

/**
 * Takes the light out of a straightened rack: the veil is taken off and each px divided by the white that would be there,
 * between the four cards on straight lines (the white in its logarithm).
 * @param tone see `toneOf`
 */
export function evenOut(
  { width, height, light }: Straight,
  cards: Readonly<Record<Corner, CardLight>>,
  about: { box: CardBox; rack: { width: number; depth: number }; pxPerMm: number; tone: number },
): Evened {
  const { box, rack, pxPerMm, tone } = about;
  const reflectance = new Float32Array(light.length);
  const toned = toneTable(tone);
  const [left, right] = ['back-left', 'back-right'].map(
    (corner) => cardPlace(corner as Corner, rack).x + WHITE.x,
  ) as [number, number];
  const [back, front] = ['back-left', 'front-left'].map(
    (corner) => cardPlace(corner as Corner, rack).y + WHITE.y,
  ) as [number, number];
  for (const k of [0, 1, 2] as const) {
    const whites = CORNERS.map((corner) => Math.log(cards[corner].white[k]));
    const veils = CORNERS.map((corner) => cards[corner].veil[k]);
    // The white of a row as a chain of factors: one exponential a row instead of one a px.
    const perPx = 1 / pxPerMm / (right - left);
    for (let y = 0; y < height; y++) {
      const down = (box.y + y / pxPerMm - back) / (front - back);
      const [whiteLeft, whiteRight] = [between(whites, 0, 2, down), between(whites, 1, 3, down)];
      const [veilLeft, veilRight] = [between(veils, 0, 2, down), between(veils, 1, 3, down)];
      const factor = Math.exp(-(whiteRight - whiteLeft) * perPx);
      const upon = (box.x - left) / (right - left);
      let scale = Math.exp(-(whiteLeft + (whiteRight - whiteLeft) * upon));
      let veil = veilLeft + (veilRight - veilLeft) * upon;
      const [first, beyond] = [3 * y * width + k, 3 * (y + 1) * width];
      for (let at = first; at < beyond; at += 3) {
        reflectance[at] = ((toned[((light[at] as number) * TONES + 0.5) | 0] as number) - veil) * scale;
        veil += (veilRight - veilLeft) * perPx;
        scale *= factor;
      }
    }
  }
  return { width, height, reflectance };
}

const between = (values: readonly number[], one: number, other: number, share: number) =>
  (values[one] as number) * (1 - share) + (values[other] as number) * share;

/** Steps of linear light for which its power is worked out once. */
const TONES = 8192;
const toneTable = (tone: number) => Float32Array.from({ length: TONES + 1 }, (_, i) => (i / TONES) ** tone);

/** One place at which the light is known against that of the cards: the logarithm of its share, for each colour. */
export interface LightSample {
  /** From -1 at the rack's left or back edge to 1 at its right or front. */
  u: number;
  v: number;
  share: readonly [number, number, number];
}

/**
 * What is left of uneven light between the cards, learnt from the base: the same base looks brighter where more light
 * falls. A curved surface is fitted to it for each colour, held to the cards at their places; what does not fit, as a
 * stretch of algae, is left out.
 * @returns the logarithm of the light at a place, for each colour, and how far the samples lie from it (a share of 1)
 */
export function curvedLight(
  samples: readonly LightSample[],
  cards: readonly { u: number; v: number }[],
): { at(u: number, v: number): [number, number, number]; spread: number } {
  if (samples.length < 8) return { at: () => [0, 0, 0], spread: Number.NaN };
  const fits = ([0, 1, 2] as const).map((k) => fitSurface(samples, cards, k));
  return {
    at: (u, v) => fits.map(({ of }) => surfaceAt(of, u, v)) as [number, number, number],
    spread: fits[1]?.spread ?? Number.NaN,
  };
}

/** A surface's own terms; the seventh column is the base's unknown brightness, which the cards do not share. */
const terms = (u: number, v: number) => [1, u, v, u * v, u * u, v * v];
const surfaceAt = (of: readonly number[], u: number, v: number) =>
  terms(u, v).reduce((sum, term, i) => sum + term * (of[i] as number), 0);

function fitSurface(
  samples: readonly LightSample[],
  cards: readonly { u: number; v: number }[],
  k: 0 | 1 | 2,
) {
  let weights = samples.map(() => 1);
  let of: number[] = [];
  let spread = 0;
  // As heavy as a fifth of all samples each: the cards say what white is.
  const hold = Math.sqrt(samples.length / 5);
  for (let round = 0; round < 6; round++) {
    const rows = [
      ...samples.map(({ u, v }, i) => [...terms(u, v), 1].map((term) => term * (weights[i] as number))),
      ...cards.map(({ u, v }) => [...terms(u, v), 0].map((term) => term * hold)),
    ];
    const values = [
      ...samples.map(({ share }, i) => share[k] * (weights[i] as number)),
      ...cards.map(() => 0),
    ];
    const design = new Matrix(rows);
    const normal = design.transpose().mmul(design);
    for (let j = 0; j < 7; j++) normal.set(j, j, normal.get(j, j) + 1e-6);
    of = solve(normal, design.transpose().mmul(Matrix.columnVector(values))).to1DArray();
    const off = samples.map(({ u, v, share }) => share[k] - surfaceAt(of, u, v) - (of[6] as number));
    spread = 1.4826 * medianOf(off.map(Math.abs));
    // Huber's weights: what lies beyond 1.5 spreads counts less (Huber 1964).
    weights = off.map((value) => Math.sqrt(Math.min(1, (1.5 * spread + 1e-9) / Math.abs(value || 1e-12))));
  }
  return { of, spread };
}

import { CARD, type CardBox, REFLECTANCE } from './card.ts';
import { type Homography, project } from './homography.ts';
import { LINEAR, medianOf, type Picture } from './image.ts';

/** Red, green and blue in linear light. */
export type Light = readonly [number, number, number];

/** A patch as a picture shows it. */
export interface Patch {
  light: Light;
  /** How uneven it is: the spread of its brightness against its mean. */
  spread: number;
  /** How much of it is at the top of what the camera can say, from 0 to 1. */
  clipped: number;
}

/** The patches of one card. */
export interface Patches {
  white: Patch;
  grey: Patch;
  black: Patch;
}

/** How far from a patch's edge it is looked at, mm, and how far apart (own choices). */
const [INSET, STEP] = [2.5, 0.6];
const CLIPPED = 252;

/** Reads a card's patches. @param map from mm on the card to px */
export function readPatches(picture: Picture, map: Homography): Patches {
  const read = (box: CardBox) => readPatch(picture, map, box);
  const { white, grey, black } = CARD.patches;
  return { white: read(white), grey: read(grey), black: read(black) };
}

function readPatch({ width, height, rgb }: Picture, map: Homography, box: CardBox): Patch {
  const values: [number[], number[], number[]] = [[], [], []];
  let clipped = 0;
  for (let y = box.y + INSET; y <= box.y + box.height - INSET; y += STEP)
    for (let x = box.x + INSET; x <= box.x + box.width - INSET; x += STEP) {
      const at = project(map, { x, y });
      const [px, py] = [Math.round(at.x), Math.round(at.y)];
      if (px < 0 || py < 0 || px >= width || py >= height) continue;
      const start = 3 * (py * width + px);
      let isClipped = false;
      for (const [k, list] of values.entries()) {
        const value = rgb[start + k] as number;
        list.push(LINEAR[value] as number);
        isClipped ||= value >= CLIPPED;
      }
      if (isClipped) clipped++;
    }
  const [r, g, b] = values.map(medianOf) as [number, number, number];
  const apart = medianOf(values[1].map((value) => Math.abs(value - g)));
  return { light: [r, g, b], spread: apart / g, clipped: clipped / values[1].length };
}

/** Whether patches are those of a card: even, and white, grey and black where they should be (own choices). */
export function isInOrder({ white, grey, black }: Patches, unevenness = 0.25): boolean {
  const [w, g, b] = [white.light[1], grey.light[1], black.light[1]];
  const lies = (g - b) / (w - b);
  return white.spread <= unevenness && w > g && g > b && b < 0.6 * w && lies >= 0.06 && lies <= 0.5;
}

const brightness = ([r, g, b]: Light) => 0.2126 * r + 0.7152 * g + 0.0722 * b;

/** Where the grey lies between black and white, as printed. */
const PRINTED = (REFLECTANCE.grey - REFLECTANCE.black) / (REFLECTANCE.white - REFLECTANCE.black);

/**
 * The power that makes a camera's values linear again, so that the grey patches lie between black and white as they were
 * printed: cameras brighten the middle. 1 where the camera keeps to sRGB; NaN where no power does it.
 */
export function toneOf(cards: readonly Patches[]): number {
  const middle = (tone: number) =>
    medianOf(
      cards.map((card) => {
        const [white, grey, black] = [card.white, card.grey, card.black].map(
          ({ light }) => brightness(light) ** tone,
        ) as [number, number, number];
        return (grey - black) / (white - black);
      }),
    );
  let [low, high] = [0.4, 2.5];
  if (!(middle(low) > PRINTED && middle(high) < PRINTED)) return Number.NaN;
  for (let i = 0; i < 40; i++) {
    const half = (low + high) / 2;
    if (middle(half) > PRINTED) low = half;
    else high = half;
  }
  return (low + high) / 2;
}

/** The light that falls on a card: what its white gives back, and the veil of water and lens that lies over all of it. */
export interface CardLight {
  white: Light;
  veil: Light;
}

/** @param tone see `toneOf` */
export function cardLight({ white, black }: Patches, tone: number): CardLight {
  const of = (k: 0 | 1 | 2) => {
    const [bright, dark] = [white.light[k] ** tone, black.light[k] ** tone];
    const falls = (bright - dark) / (REFLECTANCE.white - REFLECTANCE.black);
    return { falls, veil: Math.max(0, dark - REFLECTANCE.black * falls) };
  };
  const [r, g, b] = [of(0), of(1), of(2)];
  return { white: [r.falls, g.falls, b.falls], veil: [r.veil, g.veil, b.veil] };
}

import { type CardBox, CORNERS, type Corner } from '../card.ts';
import { evenOut } from '../evenness.ts';
import { cardMap, type Frame } from '../frame.ts';
import { cameraPlace } from '../height.ts';
import { medianOf, type Picture } from '../image.ts';
import { readLots } from '../lots.ts';
import { type CardLight, cardLight, isInOrder, type Patches, readPatches, toneOf } from '../patches.ts';
import { fitPlane, type Plane } from '../plane.ts';
import { type CardCodes, cardCodes, cornersByPlace, type FoundCode, frameOf } from '../seen-cards.ts';
import type { LotFace, RackToRead } from '../straight-rack.ts';
import { straighten } from '../straighten.ts';
import { clippingAt } from './clipping.ts';
import { whyCrooked } from './crooked.ts';
import { whyNotFound } from './not-found.ts';
import { LIMITS, type NotRead } from './reasons.ts';
import { takenOf } from './taken.ts';

/** What a photograph tells. */
export interface RackReading {
  plane: Plane;
  /** What was measured of the photograph itself. */
  quality: { residual: number; blur: number; bent: number; tilt: number; scale: number; tone: number };
  lots: LotFace[];
  /** How high the camera stood above the rack, mm; null where its lens is not known. */
  cameraHeight: number | null;
}

/** Around the rack so much is looked at as well, mm: corals lean over its edge. */
export const MARGIN = 10;
/** How fine corals are told from the base, px a mm (own choice). */
const FINE = 2;

/**
 * Reads a photograph of one rack. Nothing is guessed: what the cards do not allow is not read at all.
 * @param focal of the camera, px; null where the photograph does not say
 */
export function readRack(
  picture: Picture,
  codes: readonly FoundCode[],
  rack: RackToRead,
  focal: number | null = null,
): RackReading | NotRead {
  const found = cardsOf(picture, cardCodes(codes, rack.id));
  if ('why' in found) return found;
  const frames = mapCards((corner) => frameOf(picture, found[corner]));
  const plane = fitPlane(
    mapCards((corner) => frames[corner].corners),
    picture,
  );
  const quality = qualityOf(plane, Object.values(frames));
  const crooked = whyUnfit(picture, plane, quality, frames);
  if (crooked !== null) return crooked;
  const light = readLight(picture, frames);
  if ('why' in light) return light;
  const box = aroundRack(plane);
  const straight = straighten(picture, plane.toPixel, box, FINE, plane.scale);
  const even = evenOut(straight, light.cards, { box, rack: plane, pxPerMm: FINE, tone: light.tone });
  const camera = focal === null ? null : cameraPlace(plane, picture, focal);
  const about = { even, clipped: straight.clipped, box, pxPerMm: FINE, plane, rack, camera };
  return {
    plane,
    quality: { ...quality, tone: light.tone },
    lots: readLots(about),
    cameraHeight: camera?.height ?? null,
  };
}

/** What a rack's straightened picture shows: the rack and a margin around it, mm on the rack. */
export const aroundRack = ({ width, depth }: { width: number; depth: number }): CardBox => ({
  ...{ x: -MARGIN, y: -MARGIN },
  ...{ width: width + 2 * MARGIN, height: depth + 2 * MARGIN },
});

function mapCards<T>(of: (corner: Corner) => T): Record<Corner, T> {
  return Object.fromEntries(CORNERS.map((corner) => [corner, of(corner)])) as Record<Corner, T>;
}

/** The code of each of the rack's four cards. */
function cardsOf(picture: Picture, codes: CardCodes): Record<Corner, FoundCode> | NotRead {
  const { own, others } = codes;
  const [other] = others;
  if (own.length === 0 && other !== undefined) return { why: 'other rack', rackId: other.rackId };
  const of = (corner: Corner) => own.filter((card) => card.corner === corner);
  const twice = CORNERS.filter((corner) => of(corner).length > 1);
  if (twice.length > 0) return { why: 'twice', corners: twice };
  if (own.length < CORNERS.length) return whyNotFound(picture, codes);
  return mapCards((corner) => (of(corner)[0] as (typeof own)[number]).code);
}

/** Why the cards, though their codes were read, do not tell well enough where the rack lies. */
function whyUnfit(
  picture: Picture,
  plane: Plane,
  quality: Omit<RackReading['quality'], 'tone'>,
  frames: Record<Corner, Frame>,
): NotRead | null {
  const places = cornersByPlace(CORNERS.map((corner) => frames[corner]));
  const swapped = CORNERS.filter((corner, i) => places[i] !== null && places[i] !== corner);
  if (swapped.length > 0 && new Set(places).size === CORNERS.length)
    return { why: 'swapped', corners: swapped };
  if (quality.scale < LIMITS.scale) return { why: 'small' };
  if (quality.blur > LIMITS.blur) return { why: 'blurred' };
  const hidden = CORNERS.filter((corner) => frames[corner].seen < LIMITS.seen);
  const clippings = hidden.map((corner) => clippingAt(picture, frames[corner]));
  if (clippings.includes('bright')) return { why: 'bright' };
  const glaring = hidden.filter((_, i) => clippings[i] === 'glare');
  if (glaring.length > 0) return { why: 'glare', corners: glaring };
  if (hidden.length > 0) return { why: 'covered', corners: hidden };
  const found = mapCards((corner) => frames[corner].corners);
  return whyCrooked(plane, takenOf(Object.values(frames)), found, picture);
}

const qualityOf = ({ residual, tilt, scale }: Plane, frames: readonly Frame[]) => ({
  ...{ residual, tilt, scale },
  blur: Math.max(...frames.map(({ blur }) => blur)),
  bent: medianOf(frames.map(({ bent }) => bent)),
});

/** The light on each card, by its patches. */
function readLight(
  picture: Picture,
  frames: Record<Corner, Frame>,
): { cards: Record<Corner, CardLight>; tone: number } | NotRead {
  const patches = mapCards((corner) => readPatches(picture, cardMap(frames[corner].corners)));
  const clipped = CORNERS.filter((corner) => isClipped(patches[corner]));
  // Where the white of one card is clipped and nothing dark is, the others are near to it: the picture is too bright.
  if (clipped.some((corner) => clippingAt(picture, frames[corner]) === 'bright')) return { why: 'bright' };
  if (clipped.length > 0) return { why: 'glare', corners: clipped };
  const whites = CORNERS.map((corner) => patches[corner].white.light);
  if (whites.some((white) => Math.max(...white) < LIMITS.dark)) return { why: 'dark' };
  if (whites.some(([red, , blue]) => red < LIMITS.blue * blue)) return { why: 'blue' };
  const covered = CORNERS.filter((corner) => !isInOrder(patches[corner], LIMITS.patchSpread));
  if (covered.length > 0) return { why: 'covered', corners: covered };
  const tone = toneOf(Object.values(patches));
  if (!(tone > 0.55 && tone < 1.8)) return { why: 'patches' };
  return { cards: mapCards((corner) => cardLight(patches[corner], tone)), tone };
}

const isClipped = ({ white, grey, black }: Patches) =>
  [white, grey, black].some(({ clipped }) => clipped > LIMITS.clipped);

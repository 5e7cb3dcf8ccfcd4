import { CARD, type CardBox, CORNERS, type Corner, cardOf, frameCorners, type Point } from './card.ts';
import { evenOut } from './evenness.ts';
import { cardMap, type Frame, findFrame } from './frame.ts';
import { cameraPlace } from './height.ts';
import { fitHomography } from './homography.ts';
import { medianOf, type Picture } from './image.ts';
import { readLots } from './lots.ts';
import { whyHidden } from './not-found.ts';
import { type CardLight, cardLight, type Patches, readPatches, toneOf } from './patches.ts';
import { fitPlane, type Plane } from './plane.ts';
import type { LotFace, RackToRead } from './straight-rack.ts';
import { straighten } from './straighten.ts';

/** A code as it was found in a picture: what it says, its version (ISO/IEC 18004), its corners clockwise from its own upper left. */
export interface FoundCode {
  text: string;
  version: number;
  corners: readonly Point[];
}

/** Why a photograph is not read. */
export type NotRead =
  | { why: 'no cards' | 'blurred' | 'dark' | 'blue' | 'waves' | 'tilted' | 'small' | 'askew' | 'patches' }
  | { why: 'missing' | 'covered' | 'glare' | 'twice'; corners: Corner[] }
  | { why: 'other rack'; rackId: string };

/** What a photograph tells. */
export interface RackReading {
  plane: Plane;
  /** What was measured of the photograph itself. */
  quality: { residual: number; blur: number; bent: number; tilt: number; scale: number; tone: number };
  lots: LotFace[];
  /** How high the camera stood above the rack, mm; null where its lens is not known. */
  cameraHeight: number | null;
}

/**
 * The limits of what is read (own choices, tried by synthetic photographs): residuals of the 16 corners and of a frame's
 * sides in mm, blur in mm, tilt in degrees, px a mm, white in linear light, red of the white against its blue.
 */
export const LIMITS = {
  seen: 0.6,
  residual: 1.3,
  askew: 4,
  bent: 0.3,
  blur: 0.75,
  tilt: 25,
  scale: 1.7,
  dark: 0.05,
  blue: 0.1,
  clipped: 0.1,
  patchSpread: 0.12,
};

/** Around the rack so much is looked at as well, mm: corals lean over its edge. */
export const MARGIN = 10;
/** How fine corals are told from the base, px a mm (own choice). */
const FINE = 2;

/** The corners of a code on its card, mm: it is printed with a quiet zone of four squares. */
function codeCorners(version: number): Point[] {
  const squares = 17 + 4 * version;
  const square = CARD.code.width / (squares + 8);
  const inset = CARD.code.x - CARD.frame.x + 4 * square;
  return frameCorners(inset);
}

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
  const found = cardsOf(codes, rack.id);
  const frameOf = ({ version, corners }: FoundCode) =>
    findFrame(picture, fitHomography(codeCorners(version), corners));
  if ('why' in found) {
    if (found.why !== 'missing' && found.why !== 'no cards') return found;
    const own = codes.filter(({ text }) => cardOf(text)?.rackId === rack.id);
    const why = whyHidden(picture, own.map(frameOf), LIMITS);
    return why === null ? found : { why };
  }
  const frames = mapCards((corner) => frameOf(found[corner]));
  const covered = CORNERS.filter((corner) => frames[corner].seen < LIMITS.seen);
  const plane = fitPlane(
    mapCards((corner) => frames[corner].corners),
    picture,
  );
  const quality = qualityOf(plane, Object.values(frames));
  if (quality.scale < LIMITS.scale) return { why: 'small' };
  if (quality.blur > LIMITS.blur) return { why: 'blurred' };
  if (covered.length > 0) return { why: 'covered', corners: covered };
  if (!(quality.residual < LIMITS.askew) || !(plane.width > 0) || !(plane.depth > 0)) return { why: 'askew' };
  if (quality.tilt > LIMITS.tilt) return { why: 'tilted' };
  if (quality.residual > LIMITS.residual || quality.bent > LIMITS.bent) return { why: 'waves' };
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
function cardsOf(codes: readonly FoundCode[], rackId: string): Record<Corner, FoundCode> | NotRead {
  const cards = codes.flatMap((code) => {
    const card = cardOf(code.text);
    return card === null ? [] : [{ ...card, code }];
  });
  const own = cards.filter((card) => card.rackId === rackId);
  const other = cards.find((card) => card.rackId !== rackId);
  if (own.length === 0 && other !== undefined) return { why: 'other rack', rackId: other.rackId };
  if (own.length === 0) return { why: 'no cards' };
  const of = (corner: Corner) => own.filter((card) => card.corner === corner);
  const missing = CORNERS.filter((corner) => of(corner).length === 0);
  if (missing.length > 0) return { why: 'missing', corners: missing };
  const twice = CORNERS.filter((corner) => of(corner).length > 1);
  if (twice.length > 0) return { why: 'twice', corners: twice };
  return mapCards((corner) => (of(corner)[0] as (typeof own)[number]).code);
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
  const bright = CORNERS.filter((corner) => isGlaring(patches[corner]));
  if (bright.length > 0) return { why: 'glare', corners: bright };
  const whites = CORNERS.map((corner) => patches[corner].white.light);
  if (whites.some((white) => Math.max(...white) < LIMITS.dark)) return { why: 'dark' };
  if (whites.some(([red, , blue]) => red < LIMITS.blue * blue)) return { why: 'blue' };
  const covered = CORNERS.filter((corner) => isCovered(patches[corner]));
  if (covered.length > 0) return { why: 'covered', corners: covered };
  const tone = toneOf(Object.values(patches));
  if (!(tone > 0.55 && tone < 1.8)) return { why: 'patches' };
  return { cards: mapCards((corner) => cardLight(patches[corner], tone)), tone };
}

const isGlaring = ({ white, grey, black }: Patches) =>
  [white, grey, black].some(({ clipped }) => clipped > LIMITS.clipped);

/** A patch is covered where it is uneven, or does not stand in its order. */
function isCovered({ white, grey, black }: Patches): boolean {
  const [w, g, b] = [white.light[1], grey.light[1], black.light[1]];
  const lies = (g - b) / (w - b);
  return white.spread > LIMITS.patchSpread || !(w > g && g > b) || lies < 0.06 || lies > 0.5;
}

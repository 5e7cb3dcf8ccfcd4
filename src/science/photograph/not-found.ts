import { CARD, type CardBox, CORNERS, type Corner, cardPlace, type Point } from './card.ts';
import { cardMap, type Frame } from './frame.ts';
import { project } from './homography.ts';
import { brightnessAt, clamp, LINEAR, medianOf, type Picture } from './image.ts';
import { isInOrder, readPatches } from './patches.ts';
import { type FoundFrames, fitPlane, isEnough, type Plane, stretchAt } from './plane.ts';
import {
  type CardCodes,
  cardOutline,
  cornerBeside,
  cornersByPlace,
  frameOf,
  unreadCards,
} from './seen-cards.ts';

/** Why a photograph is not read. */
export type NotRead =
  | {
      why:
        | 'no cards'
        | 'blurred'
        | 'dark'
        | 'blue'
        | 'bright'
        | 'waves'
        | 'tilted'
        | 'lens'
        | 'small'
        | 'askew'
        | 'patches';
    }
  | {
      why: 'missing' | 'outside' | 'covered' | 'glare' | 'unread' | 'twice' | 'swapped' | 'mixed';
      corners: Corner[];
    }
  | { why: 'other rack'; rackId: string };

/**
 * The limits of what is read (own choices, tried by synthetic photographs): how much of a frame's side is seen, residuals of the
 * 16 corners and of a frame's sides in mm, blur in mm, tilt in degrees, px a mm, the lens's change of radius at the picture's
 * corner, white in linear light, red of the white against its blue.
 */
export const LIMITS = {
  seen: 0.6,
  residual: 1.3,
  bent: 0.3,
  blur: 0.75,
  tilt: 25,
  scale: 1.7,
  lens: 0.12,
  dark: 0.05,
  blue: 0.1,
  clipped: 0.1,
  patchSpread: 0.12,
};

/** What the cards that are seen tell of how a photograph was taken: px a mm, blur and bent sides in mm, tilt in degrees. */
interface Taken {
  scale: number;
  blur: number;
  bent: number;
  tilt: number;
}

export function takenOf(frames: readonly Frame[]): Taken {
  const stretches = frames.map(({ corners }) => {
    const map = cardMap(corners);
    return stretchAt((at) => project(map, at), MIDDLE);
  });
  return {
    scale: medianOf(stretches.map(({ larger, smaller }) => Math.sqrt(larger * smaller))),
    blur: medianOf(frames.map(({ blur }) => blur)),
    bent: medianOf(frames.map(({ bent }) => bent)),
    tilt: medianOf(
      stretches.map(({ larger, smaller }) => (Math.acos(Math.min(1, smaller / larger)) * 180) / Math.PI),
    ),
  };
}

/** The middle of a card's frame, mm. */
const MIDDLE = { x: 23, y: 23 };
/**
 * Edges of a picture in which nothing is sharper than this are too soft for a code, px, and the blur at which codes may not be
 * read, as a share of the limit (own choices: the sharpest tenth of edges has 0.5 to 0.9 px in pictures that are read).
 */
const [BLURRED_PX, CODE_BLUR] = [1.4, 0.6];

/**
 * Why not all of a rack's four cards were read, by what is seen of them: what keeps a picture from being read at all goes before
 * what is wrong with one card.
 */
export function whyNotFound(picture: Picture, codes: CardCodes): NotRead {
  const light = brightest(picture);
  if (Math.max(...light) < LIMITS.dark) return { why: 'dark' };
  if (light[0] < LIMITS.blue * light[2]) return { why: 'blue' };
  const read = codes.own.map(({ corner, code }) => ({ corner, frame: frameOf(picture, code) }));
  const others = codes.others.map(({ code }) => frameOf(picture, code));
  const unread = unreadCards(picture, [...read.map(({ frame }) => frame), ...others]);
  const frames = [...read.map(({ frame }) => frame), ...unread];
  // One frame alone without a code may be something else.
  if (frames.length === 0 || (read.length === 0 && frames.length === 1))
    return { why: edgeBlur(picture) > BLURRED_PX ? 'blurred' : 'no cards' };
  const taken = takenOf(frames);
  if (taken.scale < LIMITS.scale) return { why: 'small' };
  if (taken.blur > LIMITS.blur) return { why: 'blurred' };
  const seen = withCorners(read, unread);
  const { corners, plane } = planeBy(seen, picture);
  const crooked = plane === null ? crookedCards(taken) : whyCrooked(plane, taken, corners, picture);
  if (crooked !== null) return crooked;
  const why = whyIncomplete(picture, seen, plane, codes);
  // Nobody covers all cards of a rack: a code asks for a sharper picture than a frame does.
  if (read.length > 0 || why.why === 'glare') return why;
  const isSoft = taken.blur > CODE_BLUR * LIMITS.blur || edgeBlur(picture) > BLURRED_PX;
  return isSoft ? { why: 'blurred' } : { why: 'unread', corners: [] };
}

/** A card that is seen, and its corner. */
interface Seen {
  corner: Corner;
  frame: Frame;
  isRead: boolean;
}

/** The corner of each card that is seen: as its code says, or as its place beside the others does. */
function withCorners(read: readonly Omit<Seen, 'isRead'>[], unread: readonly Frame[]): Seen[] {
  const seen = read.map((card) => ({ ...card, isRead: true }));
  const places = read.length > 0 ? null : cornersByPlace(unread);
  for (const [i, frame] of unread.entries()) {
    const said = read.map((card) => cornerBeside(frame, card.frame, card.corner));
    const corner = places === null ? (said[0] ?? null) : (places[i] ?? null);
    const isSure = corner !== null && said.every((other) => other === corner);
    if (isSure && !seen.some((card) => card.corner === corner)) seen.push({ corner, frame, isRead: false });
  }
  return seen;
}

/**
 * The plane by the cards that are seen. Where those that were read tell it and fit, one that was not and does not fit is left
 * out of it: light thrown back or something that lies on it bends its frame, and it may be another rack's.
 */
function planeBy(seen: readonly Seen[], picture: Picture): { corners: FoundFrames; plane: Plane | null } {
  const all = mapOf(seen);
  const plane = isEnough(all) ? fitPlane(all, picture) : null;
  const read = mapOf(seen.filter(({ isRead }) => isRead));
  if (plane === null || plane.residual <= LIMITS.residual || !isEnough(read)) return { corners: all, plane };
  const byRead = fitPlane(read, picture);
  return byRead.residual <= LIMITS.residual ? { corners: read, plane: byRead } : { corners: all, plane };
}

const mapOf = (seen: readonly Seen[]): FoundFrames =>
  Object.fromEntries(seen.map(({ corner, frame }) => [corner, frame.corners]));

function crookedCards({ bent, tilt }: Taken): NotRead | null {
  if (bent > LIMITS.bent) return { why: 'waves' };
  return tilt > LIMITS.tilt ? { why: 'tilted' } : null;
}

/**
 * What makes cards lie where no flat rack has them: a lens, where a free one explains it; water that moves, where it draws single
 * cards out too; else a card that lies wrong. A view from the side is judged last, since each of these looks like one.
 */
export function whyCrooked(
  plane: Plane,
  { bent, tilt }: Pick<Taken, 'bent' | 'tilt'>,
  found: FoundFrames,
  picture: Picture,
): NotRead | null {
  const isFlat = plane.residual <= LIMITS.residual && plane.width > 0 && plane.depth > 0;
  if (plane.residual > DOUBTED || !isFlat || bent > LIMITS.bent || Math.abs(plane.bend) > LIMITS.lens) {
    const free = fitPlane(found, picture, 'free');
    const isLens = free.residual <= LIMITS.residual / 2 && Math.abs(free.bend) > LIMITS.lens;
    // Two more numbers make any fit a little better: four cards of an ordinary lens lose a fifth of their residuals to them.
    if (isLens && (!isFlat || free.residual < EXPLAINED * plane.residual)) return { why: 'lens' };
    if (isFlat && bent <= LIMITS.bent && Math.abs(plane.bend) > LIMITS.lens) return { why: 'lens' };
    if (bent > LIMITS.bent) return { why: 'waves' };
    if (!isFlat) return { why: isDrawnOut(found, picture) ? 'waves' : 'askew' };
  }
  if (plane.tilt <= LIMITS.tilt) return null;
  // Seen from the side each card is as narrow as the rack; where only their places say so, water moved them.
  return { why: tilt > OWN_TILT * LIMITS.tilt ? 'tilted' : 'waves' };
}

/**
 * From these residuals on, mm, it is asked whether a lens explains them, and it does where a free one leaves less than such a
 * share of them (own choices: cards fixed by hand leave 0.2 to 0.6 mm, of which a free lens leaves 0.75 to 1).
 */
const [DOUBTED, EXPLAINED] = [0.4, 0.65];

/** How much of a tilt single cards show at least (own choice). */
const OWN_TILT = 0.75;

/** From here on single cards are drawn out unlike each other as water does it, or where three of four fit well (own choices). */
const DRAWN_OUT = { usual: 0.055, oneAskew: 0.12 };

/** Whether cards are drawn out: water does that as it moves them; one that is fixed askew stays square, seen aslant a little less. */
function isDrawnOut(found: FoundFrames, picture: Picture): boolean {
  const unlike = unlikeOf(Object.values(found));
  return unlike > DRAWN_OUT.oneAskew || (unlike > DRAWN_OUT.usual && !isOneAskew(found, picture));
}

/** Whether three of four cards lie well, and the fourth does not. */
function isOneAskew(found: FoundFrames, picture: Picture): boolean {
  return CORNERS.some((corner) => {
    const { [corner]: left, ...three } = found;
    return left !== undefined && isEnough(three) && fitPlane(three, picture).residual <= LIMITS.residual / 2;
  });
}

/** How unlike frames are drawn out: the most that the logarithms of width against height, or the angles of their corners, differ. */
function unlikeOf(frames: readonly (readonly Point[])[]): number {
  const shapes = frames.map((corners) => {
    const [a, b, c, d] = corners as [Point, Point, Point, Point];
    const [rightX, rightY] = [b.x + c.x - a.x - d.x, b.y + c.y - a.y - d.y];
    const [downX, downY] = [d.x + c.x - a.x - b.x, d.y + c.y - a.y - b.y];
    const [wide, high] = [Math.hypot(rightX, rightY), Math.hypot(downX, downY)];
    return {
      drawn: Math.log(wide / high),
      sheared: Math.asin((rightX * downX + rightY * downY) / (wide * high)),
    };
  });
  const range = (values: readonly number[]) => Math.max(...values) - Math.min(...values);
  return Math.max(range(shapes.map(({ drawn }) => drawn)), range(shapes.map(({ sheared }) => sheared)));
}

/** What is wrong with single cards, where the picture as a whole is well. */
function whyIncomplete(
  picture: Picture,
  seen: readonly Seen[],
  plane: Plane | null,
  { others }: CardCodes,
): NotRead {
  const at = (of: (corner: Corner) => boolean) => CORNERS.filter((corner) => !isRead(corner) && of(corner));
  const isRead = (corner: Corner) => seen.some((card) => card.isRead && card.corner === corner);
  const outlines = new Map(
    plane === null
      ? []
      : CORNERS.map((corner) => [corner, cardOutline(plane.toPixel, cardPlace(corner, plane))] as const),
  );
  const strange = at((corner) => {
    const outline = outlines.get(corner);
    return outline !== undefined && others.some(({ code }) => isOver(outline, code.corners));
  });
  if (strange.length > 0) return { why: 'mixed', corners: strange };
  const isSeen = (corner: Corner) => seen.some((card) => card.corner === corner);
  const outside = at((corner) => !isSeen(corner) && isBeyond(picture, outlines.get(corner) ?? []));
  if (outside.length > 0) return { why: 'outside', corners: outside };
  const mapAt = (corner: Corner) => {
    const card = seen.find((one) => one.corner === corner);
    const place = plane === null ? null : cardPlace(corner, plane);
    if (card !== undefined) {
      const map = cardMap(card.frame.corners);
      return (on: Point) => project(map, on);
    }
    return plane === null || place === null
      ? null
      : (on: Point) => plane.toPixel({ x: on.x + place.x, y: on.y + place.y });
  };
  const clippings = new Map(
    at(() => true).flatMap((corner) => {
      const toPixel = mapAt(corner);
      return toPixel === null ? [] : [[corner, clippingOf(picture, toPixel)] as const];
    }),
  );
  if ([...clippings.values()].includes('bright')) return { why: 'bright' };
  const glaring = at((corner) => clippings.get(corner) === 'glare');
  if (glaring.length > 0) return { why: 'glare', corners: glaring };
  const covered = at((corner) => isSeen(corner) || isPartlySeen(picture, mapAt(corner)));
  if (covered.length > 0) return { why: 'covered', corners: covered };
  return { why: 'missing', corners: at(() => true) };
}

/** Whether something in a picture lies over an outline: its middle is nearer to the outline's than half of the outline's size. */
function isOver(outline: readonly Point[], corners: readonly Point[]): boolean {
  const mean = (of: readonly Point[]) => ({
    x: of.reduce((sum, { x }) => sum + x, 0) / of.length,
    y: of.reduce((sum, { y }) => sum + y, 0) / of.length,
  });
  const [a, b, [from, , to]] = [mean(outline), mean(corners), outline];
  const size = Math.hypot((from?.x ?? 0) - (to?.x ?? 0), (from?.y ?? 0) - (to?.y ?? 0));
  return Math.hypot(a.x - b.x, a.y - b.y) < size / 2;
}

/** Whether a corner of an outline lies beyond the picture. */
const isBeyond = ({ width, height }: Picture, outline: readonly Point[]): boolean =>
  outline.some(({ x, y }) => x < 0 || y < 0 || x > width - 1 || y > height - 1);

/** A lit card of which this share of the white, or of the dark, is at the top of what the camera can say is not well lit (own choices). */
const [WHITE_CLIPPED, DARK_CLIPPED] = [0.6, 0.04];

/**
 * Why a card is at the top of what the camera can say: all of its white is and nothing dark, where the picture is too bright;
 * what is dark as well, or a part of the card alone, where light is thrown back. Null where little is.
 */
export function clippingOf(picture: Picture, toPixel: (on: Point) => Point): 'bright' | 'glare' | null {
  // In coloured light one colour alone may be at the top: white is not known then. What is thrown back has all of them.
  const white = clippedShare(picture, toPixel, WHITES, 'some');
  const dark = clippedShare(picture, toPixel, DARKS, 'every');
  if (dark > DARK_CLIPPED) return 'glare';
  if (white >= WHITE_CLIPPED) return 'bright';
  const all = clippedShare(picture, toPixel, WHOLE, 'every');
  return white > LIMITS.clipped || all > LIMITS.clipped ? 'glare' : null;
}

/** Why a card is at the top of what the camera can say, by its frame; see `clippingOf`. */
export function clippingAt(picture: Picture, { corners }: Pick<Frame, 'corners'>): 'bright' | 'glare' | null {
  const map = cardMap(corners);
  return clippingOf(picture, (on) => project(map, on));
}

/** The middle of what is white on a card, and of what is dark: its patches, and the line of its frame. */
const { white: WHITE, grey: GREY, black: BLACK } = CARD.patches;
const within = ({ x, y, width, height }: CardBox): CardBox => ({
  ...{ x: x + 2, y: y + 2, width: width - 4, height: height - 4 },
});
const LINES = ((): CardBox[] => {
  const { x, y, width, height } = CARD.frame;
  const [thin, half] = [CARD.line / 2, CARD.line / 4];
  return [
    { x, y: y + half, width, height: thin },
    { x, y: y + height - half - thin, width, height: thin },
    { x: x + half, y, width: thin, height },
    { x: x + width - half - thin, y, width: thin, height },
  ];
})();
const [WHITES, DARKS]: [readonly CardBox[], readonly CardBox[]] = [
  [within(WHITE)],
  [within(GREY), within(BLACK), ...LINES],
];

const WHOLE: readonly CardBox[] = [{ x: 1, y: 1, width: CARD.width - 2, height: CARD.height - 2 }];

/** How much of some parts of a card is at the top of what the camera can say, from 0 to 1. */
function clippedShare(
  { width, height, rgb }: Picture,
  toPixel: (on: Point) => Point,
  boxes: readonly CardBox[],
  colours: 'some' | 'every',
): number {
  let [clipped, all] = [0, 0];
  for (const box of boxes)
    for (let y = box.y + 0.25; y < box.y + box.height; y += 0.5)
      for (let x = box.x + 0.25; x < box.x + box.width; x += 0.5) {
        const { x: px, y: py } = toPixel({ x, y });
        if (px < 0 || py < 0 || px > width - 1 || py > height - 1) continue;
        const at = 3 * (Math.round(py) * width + Math.round(px));
        all++;
        if (rgb.subarray(at, at + 3)[colours]((value) => value >= 252)) clipped++;
      }
  return all === 0 ? 0 : clipped / all;
}

/** Whether a part of a card is where it should lie: its patches, or paper beside what is dark. */
function isPartlySeen(picture: Picture, toPixel: ((on: Point) => Point) | null): boolean {
  if (toPixel === null) return false;
  const corners = [
    { x: CARD.frame.x + 1, y: CARD.frame.y + 1 },
    { x: CARD.frame.x + 41, y: CARD.frame.y + 1 },
    { x: CARD.frame.x + 41, y: CARD.frame.y + 41 },
    { x: CARD.frame.x + 1, y: CARD.frame.y + 41 },
  ].map(toPixel);
  return isInOrder(readPatches(picture, cardMap(corners)));
}

/** The light of the brightest hundredth of a picture: the white of cards is among it, where any is in the picture. */
function brightest({ width, height, rgb }: Picture): [number, number, number] {
  const px: { at: number; sum: number }[] = [];
  const step = Math.max(1, Math.round(Math.sqrt((width * height) / 40_000)));
  for (let y = 0; y < height; y += step)
    for (let x = 0; x < width; x += step) {
      const at = 3 * (y * width + x);
      px.push({ at, sum: (rgb[at] as number) + (rgb[at + 1] as number) + (rgb[at + 2] as number) });
    }
  const top = px.sort((a, b) => b.sum - a.sum).slice(0, Math.ceil(px.length / 100));
  const of = (k: number) => medianOf(top.map(({ at }) => LINEAR[rgb[at + k] as number] as number));
  return [of(0), of(1), of(2)];
}

/** How wide a stretch of a row is in which an edge is looked for, px, and from which contrast on it counts (own choices). */
const [STRETCH, LEAST_CONTRAST] = [24, 0.12];

/**
 * How soft the sharpest edges of a picture are: the standard deviation of the blur, px (a step blurred by a normal curve is
 * steepest by contrast / (sigma sqrt(2 pi))). 0 where it has no edges.
 */
function edgeBlur(picture: Picture): number {
  const { width, height } = picture;
  const found: number[] = [];
  const rows = Math.max(1, Math.round(height / 120));
  for (let y = rows; y < height; y += rows)
    for (let left = 0; left + STRETCH < width; left += STRETCH) {
      const cut = Array.from({ length: STRETCH }, (_, i) =>
        brightnessAt(picture, { x: left + i, y: clamp(y, 0, height - 1) }),
      );
      const contrast = Math.max(...cut) - Math.min(...cut);
      if (contrast < LEAST_CONTRAST) continue;
      const steepest = Math.max(...cut.slice(1).map((value, i) => Math.abs(value - (cut[i] as number))));
      found.push(contrast / (steepest * Math.sqrt(2 * Math.PI)));
    }
  return found.length < 20 ? 0 : (found.toSorted((a, b) => a - b)[Math.floor(found.length / 10)] as number);
}

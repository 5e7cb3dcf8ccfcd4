import { CARD, CORNERS, type Corner, cardPlace, type Point } from '../card.ts';
import { cardMap, type Frame } from '../frame.ts';
import { project } from '../homography.ts';
import type { Picture } from '../image.ts';
import { isInOrder, readPatches } from '../patches.ts';
import { type FoundFrames, fitPlane, isEnough, type Plane } from '../plane.ts';
import {
  type CardCodes,
  cardOutline,
  cornerBeside,
  cornersByPlace,
  frameOf,
  unreadCards,
} from '../seen-cards.ts';
import { clippingOf } from './clipping.ts';
import { crookedCards, whyCrooked } from './crooked.ts';
import { LIMITS, type NotRead } from './reasons.ts';
import { brightest, edgeBlur } from './sharpness.ts';
import { takenOf } from './taken.ts';

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

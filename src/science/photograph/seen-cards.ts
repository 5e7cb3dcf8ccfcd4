import { CARD, CORNERS, type Corner, cardOf, cardPlace, frameCorners, type Point } from './card.ts';
import { cardMap, type Frame, findFrame } from './frame.ts';
import { fitHomography } from './homography.ts';
import type { Picture } from './image.ts';
import { isInOrder, readPatches } from './patches.ts';
import { type FoundFrames, fitPlane, isEnough } from './plane.ts';
import { findRings, isSame, middleOf } from './rings.ts';

/** A code as it was found in a picture: what it says, its version (ISO/IEC 18004), its corners clockwise from its own upper left. */
export interface FoundCode {
  text: string;
  version: number;
  corners: readonly Point[];
}

/** The codes of cards in a picture: those of one rack, and those of others. */
export interface CardCodes {
  own: { corner: Corner; code: FoundCode }[];
  others: { rackId: string; code: FoundCode }[];
}

/** Tells a rack's cards from those of others. */
export function cardCodes(codes: readonly FoundCode[], rackId: string): CardCodes {
  const cards = codes.flatMap((code) => {
    const card = cardOf(code.text);
    return card === null ? [] : [{ ...card, code }];
  });
  return {
    own: cards.filter((card) => card.rackId === rackId),
    others: cards.filter((card) => card.rackId !== rackId),
  };
}

/** The frame around a code. */
export const frameOf = (picture: Picture, { version, corners }: FoundCode): Frame =>
  findFrame(picture, fitHomography(codeCorners(version), corners));

/** The corners of a code on its card, mm: it is printed with a quiet zone of four squares. */
function codeCorners(version: number): Point[] {
  const squares = 17 + 4 * version;
  const square = CARD.code.width / (squares + 8);
  return frameCorners(CARD.code.x - CARD.frame.x + 4 * square);
}

/** Where a place in a picture is on a card, and how large a mm there is, by the card's own two sides. */
function onCard({ corners }: Pick<Frame, 'corners'>, { x, y }: Point): Point {
  const [a, b, , d] = corners as [Point, Point, Point, Point];
  const side = CARD.frame.width - CARD.line;
  const [rx, ry, dx, dy] = [b.x - a.x, b.y - a.y, d.x - a.x, d.y - a.y].map((px) => px / side) as [
    number,
    number,
    number,
    number,
  ];
  const determinant = rx * dy - ry * dx;
  return {
    x: ((x - a.x) * dy - (y - a.y) * dx) / determinant,
    y: ((y - a.y) * rx - (x - a.x) * ry) / determinant,
  };
}

/** How long an outline's sides are against another's. */
const sizeOf = (corners: readonly Point[]): number =>
  Math.hypot((corners[0]?.x ?? 0) - (corners[2]?.x ?? 0), (corners[0]?.y ?? 0) - (corners[2]?.y ?? 0));

/**
 * Cards that are seen though their codes were not read: frames by their look alone, of the size and turn of a card that was
 * read; where none was, with a card's patches beside them.
 * @param read frames of all cards that were read, of this rack and of others
 */
export function unreadCards(picture: Picture, read: readonly Frame[]): Frame[] {
  const known = read.map(({ corners }) => corners);
  return findRings(picture)
    .filter((ring) => !known.some((corners) => isSame(corners, ring) || isWithin(ring, corners)))
    .flatMap((ring) => {
      const turns = [0, 1, 2, 3].map((by) => turned(ring, by));
      const frames = turns.map((corners) => findFrame(picture, cardMap(corners)));
      const alike = frames.find((frame) => read.some((other) => isAlike(frame, other)));
      if (read.length > 0) return alike === undefined ? [] : [alike];
      const patched = frames
        .map((frame) => ({ frame, patches: readPatches(picture, cardMap(frame.corners)) }))
        .filter(({ patches }) => isInOrder(patches))
        .sort((a, b) => contrast(b.patches) - contrast(a.patches))[0];
      return patched === undefined ? [] : [patched.frame];
    });
}

const turned = (corners: readonly Point[], by: number): Point[] =>
  corners.map((_, i) => corners[(i + by) % 4] as Point);

const contrast = ({ white, black }: ReturnType<typeof readPatches>): number =>
  white.light[1] - black.light[1];

const isWithin = (ring: readonly Point[], corners: readonly Point[]): boolean => {
  const { x, y } = onCard({ corners: [...corners] }, middleOf(ring));
  return x > -4 && y > -4 && x < CARD.width && y < CARD.height;
};

/** Whether a frame is as large as another (half as much again at most) and turned as it is (by 25 degrees at most). */
function isAlike(one: Frame, other: Frame): boolean {
  const share = sizeOf(one.corners) / sizeOf(other.corners);
  const [a, b] = [one, other].map(({ corners: [from, to] }) =>
    Math.atan2((to?.y ?? 0) - (from?.y ?? 0), (to?.x ?? 0) - (from?.x ?? 0)),
  ) as [number, number];
  return share > 0.67 && share < 1.5 && Math.cos(a - b) > 0.9;
}

/** Two cards whose places differ by more than so much, mm, are not at one side of their rack. */
const APART = { x: 55, y: 42 };

/**
 * At which corner of its rack each card lies, by the places and turns of cards alone.
 * @returns null for a card whose corner cannot be told
 */
export function cornersByPlace(frames: readonly Frame[]): (Corner | null)[] {
  return frames.map((frame) => {
    const from = frames.map((other) => onCard(other, middleOf(frame.corners)));
    const [lefts, ups] = [from.map(({ x }) => x - MIDDLE), from.map(({ y }) => y - MIDDLE)];
    const right = sideOf(lefts, APART.x);
    const front = sideOf(ups, APART.y);
    if (right === null || front === null) return null;
    return `${front > 0 ? 'front' : 'back'}-${right > 0 ? 'right' : 'left'}` as const;
  });
}

/** The middle of a card's frame from its line's corner, mm. */
const MIDDLE = (CARD.frame.width - CARD.line) / 2;

/** On which side of the others something lies: 1 beyond some of them, -1 before some; null where none is apart or both are. */
function sideOf(distances: readonly number[], apart: number): 1 | -1 | null {
  const [most, least] = [Math.max(...distances), Math.min(...distances)];
  if (most > apart && least > -apart) return 1;
  return least < -apart && most < apart ? -1 : null;
}

/** At which corner a card lies, as a card that was read and its corner tell; null where it lies at that card's own. */
export function cornerBeside(frame: Frame, read: Frame, corner: Corner): Corner | null {
  const { x, y } = onCard(read, middleOf(frame.corners));
  const isBeside = Math.abs(x - MIDDLE) > APART.x;
  const isBefore = Math.abs(y - MIDDLE) > APART.y;
  if (!isBeside && !isBefore) return null;
  const [depth, side] = corner.split('-') as ['back' | 'front', 'left' | 'right'];
  // Only the ways that a rack leads on from this corner.
  if (isBeside && (x > MIDDLE ? side === 'right' : side === 'left')) return null;
  if (isBefore && (y > MIDDLE ? depth === 'front' : depth === 'back')) return null;
  const otherSide = side === 'left' ? 'right' : 'left';
  const otherDepth = depth === 'back' ? 'front' : 'back';
  return `${isBefore ? otherDepth : depth}-${isBeside ? otherSide : side}`;
}

/** Where a card at a corner lies in a picture, px: its outline, as the rack's plane has it. */
export const cardOutline = (toPixel: (on: Point) => Point, { x, y }: Point): Point[] =>
  [
    { x, y },
    { x: x + CARD.width, y },
    { x: x + CARD.width, y: y + CARD.height },
    { x, y: y + CARD.height },
  ].map(toPixel);

/**
 * Where the frames of a rack's other cards are to be expected, px, by those that were read: as its plane has them.
 * @returns none where the cards that were read do not tell the plane, or do not lie in one
 */
export function cardsToExpect(picture: Picture, read: CardCodes['own']): Point[][] {
  const frames = new Map(read.map(({ corner, code }) => [corner, frameOf(picture, code).corners]));
  const found = Object.fromEntries(frames) as FoundFrames;
  if (frames.size === CORNERS.length || !isEnough(found)) return [];
  const plane = fitPlane(found, picture);
  if (!(plane.residual < PLANE_TOLD && plane.width > 0 && plane.depth > 0)) return [];
  return CORNERS.filter((corner) => !frames.has(corner)).map((corner) => {
    const at = cardPlace(corner, plane);
    return frameCorners(CARD.line / 2).map(({ x, y }) => plane.toPixel({ x: x + at.x, y: y + at.y }));
  });
}

/** Cards that lie further from one plane than this, mm, do not tell where another lies (own choice). */
const PLANE_TOLD = 1.5;

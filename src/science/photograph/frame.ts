import { CARD, frameCorners, type Point } from './card.ts';
import { fitHomography, type Homography, project } from './homography.ts';
import { brightnessAt, medianOf, type Picture } from './image.ts';

/** The frame of a card as a picture shows it. */
export interface Frame {
  /** The middle of its line at the four corners, px, clockwise from the card's upper left. */
  corners: Point[];
  /** The worst side: how much of it was seen, from 0 to 1. */
  seen: number;
  /** How far its sides are from straight, mm (root mean square). */
  bent: number;
  /** How soft its edges are: the standard deviation of the blur, mm. */
  blur: number;
}

/** Places looked at along a side, and how far to both sides of its line, mm (own choices). */
const PLACES = 28;
const REACH = 2.4;
/** A line is seen where it is so much darker than what lies beside it (own choice). */
const LEAST_CONTRAST = 0.35;

/**
 * Finds a card's frame near where its code says it lies. Along each side the middle of the dark line is taken at many
 * places; a line is fitted to them, and the corners are where the lines meet.
 * @param near from mm on the card to px
 */
export function findFrame(picture: Picture, near: Homography): Frame {
  const first = sidesOf(picture, near);
  const second = sidesOf(picture, cardMap(cornersOf(first, near)));
  return {
    corners: cornersOf(second, near),
    seen: Math.min(...second.map(({ seen }) => seen)),
    bent: Math.sqrt(second.reduce((sum, { bent }) => sum + bent * bent, 0) / second.length),
    blur: medianOf(second.flatMap(({ blurs }) => blurs)),
  };
}

const lineCorners = frameCorners(CARD.line / 2);

/** From mm on a card to px, by the corners of its frame. */
export const cardMap = (corners: readonly Point[]): Homography => fitHomography(lineCorners, corners);

interface Side {
  /** A place on it and its direction; null where it is not seen. */
  line: { at: Point; along: Point } | null;
  seen: number;
  bent: number;
  blurs: number[];
}

function sidesOf(picture: Picture, map: Homography): Side[] {
  return lineCorners.map((from, i) => sideOf(picture, map, from, lineCorners[(i + 1) % 4] as Point));
}

function sideOf(picture: Picture, map: Homography, from: Point, to: Point): Side {
  const length = Math.hypot(to.x - from.x, to.y - from.y);
  const along = { x: (to.x - from.x) / length, y: (to.y - from.y) / length };
  const across = { x: along.y, y: -along.x };
  const found: { at: Point; blur: number }[] = [];
  let scale = 0;
  for (let i = 0; i < PLACES; i++) {
    const share = 0.08 + (0.84 * (i + 0.5)) / PLACES;
    const on = { x: from.x + (to.x - from.x) * share, y: from.y + (to.y - from.y) * share };
    const shifted = (mm: number) => project(map, { x: on.x + across.x * mm, y: on.y + across.y * mm });
    const [one, other] = [shifted(-REACH), shifted(REACH)];
    scale = Math.hypot(other.x - one.x, other.y - one.y) / (2 * REACH);
    const middle = darkMiddle(picture, shifted, scale);
    if (middle !== null) found.push({ at: shifted(middle.mm), blur: middle.blur });
  }
  const { line, kept, bent } = fitLine(found.map(({ at }) => at));
  return { line, seen: kept / PLACES, bent: bent / scale, blurs: found.map(({ blur }) => blur) };
}

/** Where the dark line lies on a cut across it, mm; null where there is none. */
function darkMiddle(
  picture: Picture,
  shifted: (mm: number) => Point,
  scale: number,
): { mm: number; blur: number } | null {
  const steps = Math.max(12, Math.ceil(2 * REACH * scale * 2));
  const step = (2 * REACH) / steps;
  const cut = Array.from({ length: steps + 1 }, (_, i) => brightnessAt(picture, shifted(-REACH + i * step)));
  const white = (medianOf(cut.slice(0, 4)) + medianOf(cut.slice(-4))) / 2;
  const dark = Math.min(...cut);
  if (!(white - dark > LEAST_CONTRAST * white)) return null;
  let [weight, moment, steepest] = [0, 0, 0];
  for (const [i, value] of cut.entries()) {
    // The upper tenth is noise and shading rather than line.
    const depth = Math.min(1, Math.max(0, (white - value) / (white - dark) - 0.1));
    weight += depth;
    moment += depth * (-REACH + i * step);
    steepest = Math.max(steepest, Math.abs(value - (cut[i - 1] ?? value)) / step);
  }
  // A step that is blurred by a normal curve is steepest by contrast / (sigma sqrt(2 pi)).
  return { mm: moment / weight, blur: (white - dark) / (steepest * Math.sqrt(2 * Math.PI)) };
}

/** A line by total least squares; what lies far from it is left out, twice. */
function fitLine(points: readonly Point[]): { line: Side['line']; kept: number; bent: number } {
  let kept = [...points];
  let line: Side['line'] = null;
  let bent = 0;
  for (let round = 0; round < 3; round++) {
    if (kept.length < 6) return { line: null, kept: kept.length, bent: 0 };
    line = lineThrough(kept);
    const { at, along } = line;
    const off = ({ x, y }: Point) => Math.abs((x - at.x) * along.y - (y - at.y) * along.x);
    const limit = Math.max(0.4, 4 * medianOf(kept.map(off)));
    kept = points.filter((point) => off(point) <= limit);
    bent = Math.sqrt(kept.reduce((sum, point) => sum + off(point) ** 2, 0) / Math.max(1, kept.length));
  }
  return { line, kept: kept.length, bent };
}

function lineThrough(points: readonly Point[]): { at: Point; along: Point } {
  const x = points.reduce((sum, point) => sum + point.x, 0) / points.length;
  const y = points.reduce((sum, point) => sum + point.y, 0) / points.length;
  let [xx, xy, yy] = [0, 0, 0];
  for (const point of points) {
    xx += (point.x - x) ** 2;
    xy += (point.x - x) * (point.y - y);
    yy += (point.y - y) ** 2;
  }
  const angle = Math.atan2(2 * xy, xx - yy) / 2;
  return { at: { x, y }, along: { x: Math.cos(angle), y: Math.sin(angle) } };
}

/** Where neighbouring sides meet; a corner at which one is not seen stays where the code says. */
function cornersOf(sides: readonly Side[], near: Homography): Point[] {
  return lineCorners.map((corner, i) => {
    const [one, other] = [sides[(i + 3) % 4]?.line ?? null, sides[i]?.line ?? null];
    if (one === null || other === null) return project(near, corner);
    const cross = one.along.x * other.along.y - one.along.y * other.along.x;
    const [x, y] = [other.at.x - one.at.x, other.at.y - one.at.y];
    const far = (x * other.along.y - y * other.along.x) / cross;
    return { x: one.at.x + one.along.x * far, y: one.at.y + one.along.y * far };
  });
}

import type { Point } from './card.ts';
import { clamp, LINEAR, type Picture } from './image.ts';
import { regionsOf } from './regions.ts';

/** The longer side at which frames of cards are looked for, px, and how much a small picture is drawn larger for it (own choices). */
const [LONGER, LARGER] = [1300, 3];
/**
 * How wide a line is at most, px: lines of each are looked for. Of what lies beside it a line has less than so much of the light
 * (own choices).
 */
const [WIDTHS, DARK] = [[7, 12, 20], 0.8];
/** A frame has at least so many px along a side, and at most such a share of the picture's longer side (own choices). */
const [LEAST_SIDE, MOST_SIDE] = [24, 0.4];
/** How far from its outline a frame's px may lie, as a share of its side, and how much of each side is dark (own choices). */
const [OFF_LINE, ON_SIDE] = [0.07, 0.75];

/** A picture is asked for its frames twice: to read codes by them, and to say why cards are not read. */
const known = new WeakMap<Picture, readonly Point[][]>();

/**
 * Frames of cards, found by their look alone: dark rings of four sides, which water may bend. They tell of cards whose codes
 * cannot be read. They are looked for once a picture, which must not be altered in between.
 * @returns four corners each in px, along the outline, from any of them on
 */
export function findRings(picture: Picture): readonly Point[][] {
  const rings = known.get(picture) ?? lookForRings(picture);
  known.set(picture, rings);
  return rings;
}

function lookForRings(picture: Picture): Point[][] {
  const by = Math.max(1 / LARGER, Math.max(picture.width, picture.height) / LONGER);
  const small = resized(picture, by);
  const most = MOST_SIDE * Math.max(small.width, small.height);
  const rings: Point[][] = [];
  for (const wide of WIDTHS)
    for (const { px } of regionsOf({ ...small, on: linesOf(small, wide) }, 1, 3 * LEAST_SIDE)) {
      if (px.length > 4 * most * wide) continue;
      const points = Array.from(px, (at) => ({ x: at % small.width, y: Math.floor(at / small.width) }));
      const corners = cornersOf(points);
      if (corners === null || !isRing(points, corners, most)) continue;
      const ring = corners.map(({ x, y }) => ({ x: (x + 0.5) * by - 0.5, y: (y + 0.5) * by - 0.5 }));
      if (!rings.some((other) => isSame(other, ring))) rings.push(ring);
    }
  return rings;
}

/** The middle of some places. */
export const middleOf = (points: readonly Point[]): Point => ({
  x: points.reduce((sum, { x }) => sum + x, 0) / points.length,
  y: points.reduce((sum, { y }) => sum + y, 0) / points.length,
});

/** Whether two outlines of four corners are of one card: each has the other's middle within, nearer than a third of its size. */
export function isSame(one: readonly Point[], other: readonly Point[]): boolean {
  const [a, b] = [middleOf(one), middleOf(other)];
  const sizes = [one, other].map(([first, , third]) =>
    Math.hypot((first?.x ?? 0) - (third?.x ?? 0), (first?.y ?? 0) - (third?.y ?? 0)),
  );
  return (
    Math.hypot(a.x - b.x, a.y - b.y) < Math.min(...sizes) / 3 && Math.max(...sizes) < 2 * Math.min(...sizes)
  );
}

interface Grey {
  width: number;
  height: number;
  light: Float32Array;
}

/** A picture's green at another size: the mean of two by two places beneath each px of a smaller one, else the nearest px. */
function resized({ width: wide, height: high, rgb }: Picture, by: number): Grey {
  const [width, height] = [Math.floor(wide / by), Math.floor(high / by)];
  const light = new Float32Array(width * height);
  const places = by > 1.2 ? [0.25, 0.75] : [0.5];
  const onOf = (count: number, of: number, share: number) =>
    Int32Array.from({ length: count }, (_, i) => clamp(Math.round((i + share) * by - 0.5), 0, of - 1));
  for (const down of places)
    for (const right of places) {
      const [rows, columns] = [onOf(height, high, down), onOf(width, wide, right)];
      for (let y = 0; y < height; y++) {
        const row = (rows[y] as number) * wide;
        for (let x = 0; x < width; x++) {
          const green = rgb[3 * (row + (columns[x] as number)) + 1] as number;
          const at = y * width + x;
          light[at] = (light[at] as number) + (LINEAR[green] as number);
        }
      }
    }
  return { width, height, light };
}

/** 1 where a px is darker than what lies on both sides of a line of so many px (a closing by a square fills the line). */
function linesOf({ width, height, light }: Grey, wide: number): Uint8Array {
  const filled = new Float32Array(light.length);
  for (let i = 0; i < filled.length; i++) filled[i] = -(light[i] as number);
  // The most of a square around each is the least of its negative, looked for from the one end; the way back from the other.
  leastAlong(filled, width, height, wide, 1);
  for (let i = 0; i < filled.length; i++) filled[i] = -(filled[i] as number);
  leastAlong(filled, width, height, wide, -1);
  const on = new Uint8Array(light.length);
  for (let i = 0; i < on.length; i++) if ((light[i] as number) < DARK * (filled[i] as number)) on[i] = 1;
  return on;
}

/** Puts the least of the next (or the last) so many px in a px's place, along rows and then columns: by doubled stretches. */
function leastAlong(of: Float32Array, width: number, height: number, wide: number, way: 1 | -1): void {
  for (let span = 1; span < wide; ) {
    const by = Math.min(span, wide - span);
    for (let row = 0; row < height; row++) {
      const start = row * width;
      if (way === 1) lower(of, start, start + width - by, 1, by);
      else lower(of, start + width - 1, start + by - 1, -1, by);
    }
    if (way === 1) lower(of, 0, of.length - by * width, 1, by * width);
    else lower(of, of.length - 1, by * width - 1, -1, by * width);
    span += by;
  }
}

/** Lowers each px to the one so many further on, before that one is lowered itself. */
function lower(of: Float32Array, from: number, to: number, step: 1 | -1, by: number): void {
  const further = step * by;
  for (let i = from; i !== to; i += step) {
    const other = of[i + further] as number;
    if (other < (of[i] as number)) of[i] = other;
  }
}

/** The corners of a four-sided shape: the two that are farthest apart, and the farthest from the line between on both sides. */
function cornersOf(points: readonly Point[]): Point[] | null {
  const middle = middleOf(points);
  const farthest = (of: (at: Point) => number) =>
    points.reduce((best, point) => (of(point) > of(best) ? point : best), points[0] as Point);
  const one = farthest(({ x, y }) => Math.hypot(x - middle.x, y - middle.y));
  const third = farthest(({ x, y }) => Math.hypot(x - one.x, y - one.y));
  const side = ({ x, y }: Point) => (third.x - one.x) * (y - one.y) - (third.y - one.y) * (x - one.x);
  const second = farthest(side);
  const fourth = farthest((at) => -side(at));
  return side(second) > 0 && side(fourth) < 0 ? [one, fourth, third, second] : null;
}

/** Whether a dark shape is a ring of four sides, of a frame's size and look. */
function isRing(points: readonly Point[], corners: readonly Point[], most: number): boolean {
  const sides = corners.map((from, i) => {
    const to = corners[(i + 1) % 4] as Point;
    return { from, to, length: Math.hypot(to.x - from.x, to.y - from.y) };
  });
  const lengths = sides.map(({ length }) => length);
  const [shortest, longest] = [Math.min(...lengths), Math.max(...lengths)];
  if (shortest < LEAST_SIDE || longest > most || shortest < 0.4 * longest) return false;
  const mean = lengths.reduce((sum, length) => sum + length, 0) / 4;
  let off = 0;
  // Which stretches of each side have a dark px.
  const seen = sides.map(() => new Set<number>());
  for (const at of points) {
    const fars = sides.map((side) => fromSide(at, side));
    const near = Math.min(...fars);
    off += near;
    const i = fars.indexOf(near);
    const { from, to, length } = sides[i] as (typeof sides)[number];
    const along = ((at.x - from.x) * (to.x - from.x) + (at.y - from.y) * (to.y - from.y)) / length ** 2;
    seen[i]?.add(Math.floor(along * STRETCHES));
  }
  return off / points.length < OFF_LINE * mean && seen.every(({ size }) => size >= ON_SIDE * STRETCHES);
}

const STRETCHES = 20;

const fromSide = (
  { x, y }: Point,
  { from, to, length }: { from: Point; to: Point; length: number },
): number => Math.abs((to.x - from.x) * (y - from.y) - (to.y - from.y) * (x - from.x)) / length;

import type { Point } from './card.ts';

/** A mask: 1 where a px belongs. */
export interface Mask {
  width: number;
  height: number;
  on: Uint8Array;
}

/** A px belongs where most of the px around it do, itself included: takes out single ones and closes small gaps. */
export function smoothed({ width, height, on }: Mask): Mask {
  const to = new Uint8Array(on.length);
  for (let y = 1; y < height - 1; y++)
    for (let x = 1; x < width - 1; x++) {
      const i = y * width + x;
      let count = 0;
      for (let row = i - width; row <= i + width; row += width)
        count += (on[row - 1] as number) + (on[row] as number) + (on[row + 1] as number);
      to[i] = count >= 5 ? 1 : 0;
    }
  return { width, height, on: to };
}

/** A connected part of a mask. */
export interface Region {
  /** Numbers of its px. */
  px: Int32Array;
  touchesEdge: boolean;
}

/** Connected parts (by their sides) of px that are `value`, the largest first, each of at least so many px. */
export function regionsOf({ width, height, on }: Mask, value: 0 | 1, least: number): Region[] {
  const seen = new Uint8Array(on.length);
  // All px in the order in which they are reached: a part is a stretch of it.
  const reached = new Int32Array(on.length);
  let count = 0;
  const take = (to: number) => {
    if (seen[to] === 1 || on[to] !== value) return;
    seen[to] = 1;
    reached[count] = to;
    count++;
  };
  const regions: Region[] = [];
  for (let start = 0; start < on.length; start++) {
    if (seen[start] === 1 || on[start] !== value) continue;
    const begin = count;
    take(start);
    let touchesEdge = false;
    for (let next = begin; next < count; next++) {
      const i = reached[next] as number;
      const x = i % width;
      if (x === 0 || x === width - 1 || i < width || i >= on.length - width) touchesEdge = true;
      if (x > 0) take(i - 1);
      if (x < width - 1) take(i + 1);
      if (i >= width) take(i - width);
      if (i < width * (height - 1)) take(i + width);
    }
    if (count - begin >= least) regions.push({ px: reached.subarray(begin, count), touchesEdge });
  }
  return regions.sort((a, b) => b.px.length - a.px.length);
}

/** Fills what lies within and is smaller than so many px. @returns how many px were filled */
export function fillHoles(mask: Mask, largest: number): number {
  let filled = 0;
  for (const { px, touchesEdge } of regionsOf(mask, 0, 1)) {
    if (touchesEdge || px.length > largest) continue;
    for (const i of px) mask.on[i] = 1;
    filled += px.length;
  }
  return filled;
}

/** The px of a mask that are at least so many px from its edge (by steps to the side). */
export function inner({ width, height, on }: Mask, steps: number): Mask {
  let from = on;
  for (let step = 0; step < steps; step++) {
    const to = new Uint8Array(from.length);
    for (let y = 1; y < height - 1; y++)
      for (let x = 1; x < width - 1; x++) {
        const i = y * width + x;
        const isInner = from[i] && from[i - 1] && from[i + 1] && from[i - width] && from[i + width];
        if (isInner) to[i] = 1;
      }
    from = to;
  }
  return { width, height, on: from };
}

/** The outer border of the part of a mask that holds a px, along the px' edges, clockwise. */
export function borderOf({ width, height, on }: Mask, start: number): Point[] {
  // The upper edge of the topmost px of its column above the start is on some border; the outermost is found by walking up.
  const has = (x: number, y: number) =>
    x >= 0 && y >= 0 && x < width && y < height && on[y * width + x] === 1;
  const [firstX, firstY] = [start % width, Math.floor(start / width)];
  const border: Point[] = [];
  // Corners of px are walked with the mask on the right: 0 right, 1 down, 2 left, 3 up.
  let [x, y, heading] = [firstX, firstY, 0];
  do {
    border.push({ x, y });
    const [dx, dy] = STEPS[heading] as [number, number];
    [x, y] = [x + dx, y + dy];
    const ahead = AHEAD[heading] as { left: [number, number]; right: [number, number] };
    const isLeft = has(x + ahead.left[0], y + ahead.left[1]);
    const isRight = has(x + ahead.right[0], y + ahead.right[1]);
    if (isLeft && isRight) heading = (heading + 3) % 4;
    else if (!isLeft && !isRight) heading = (heading + 1) % 4;
    else if (isLeft) heading = (heading + 1) % 4;
  } while (x !== firstX || y !== firstY || heading !== 0);
  return border;
}

const STEPS = [
  [1, 0],
  [0, 1],
  [-1, 0],
  [0, -1],
];
/** The px to the left and to the right of the way ahead, from the corner that was reached. */
const AHEAD = [
  { left: [0, -1], right: [0, 0] },
  { left: [0, 0], right: [-1, 0] },
  { left: [-1, 0], right: [-1, -1] },
  { left: [-1, -1], right: [0, -1] },
];

/** Leaves out points that lie nearer than `far` to the line that is left (Douglas and Peucker 1973). */
export function simplified(points: readonly Point[], far: number): Point[] {
  if (points.length < 3) return [...points];
  const keep = new Uint8Array(points.length);
  keep[0] = 1;
  keep[points.length - 1] = 1;
  const parts: [number, number][] = [[0, points.length - 1]];
  for (let part = parts.pop(); part !== undefined; part = parts.pop()) {
    const [from, to] = part;
    const [a, b] = [points[from] as Point, points[to] as Point];
    const length = Math.hypot(b.x - a.x, b.y - a.y);
    let [farthest, most] = [-1, far];
    for (let i = from + 1; i < to; i++) {
      const { x, y } = points[i] as Point;
      const off =
        length === 0
          ? Math.hypot(x - a.x, y - a.y)
          : Math.abs((x - a.x) * (b.y - a.y) - (y - a.y) * (b.x - a.x)) / length;
      if (off > most) [farthest, most] = [i, off];
    }
    if (farthest < 0) continue;
    keep[farthest] = 1;
    parts.push([from, farthest], [farthest, to]);
  }
  return points.filter((_, i) => keep[i] === 1);
}

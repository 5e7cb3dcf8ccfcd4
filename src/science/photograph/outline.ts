import type { Point } from './card.ts';
import type { Mask } from './regions.ts';

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

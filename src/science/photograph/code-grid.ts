import { CARD, type Point } from './card.ts';
import { cardMap } from './frame.ts';
import { fitHomography, project } from './homography.ts';
import { brightnessAt, type Picture } from './image.ts';

/** A code drawn anew: one value a px, 0 or 255, and from where on the drawing (px) to where in the picture (px). */
export interface CodeDrawing {
  px: Uint8Array;
  /** px along a side. */
  side: number;
  toPicture(on: Point): Point;
}

/** Where a code lies: the corners of its squares without the quiet zone, px, from its own upper left on clockwise. */
export interface CodePlace {
  version: number;
  corners: Point[];
  /** How much lighter its light squares of known places are than the dark ones, against what is light there: up to 1. */
  contrast: number;
}

/** How wide a quiet zone is, squares (ISO/IEC 18004), and how large a square is drawn, px. */
const [QUIET, LARGE] = [4, 4];
/** How far a code is moved to fit better, squares: water and hand-fixed frames are not exact (own choices). */
const STEPS = [0.4, 0.2, 0.1, 0.4, 0.2, 0.1];
/** A code whose known squares stand out less than this is none (own choice). */
const LEAST_CONTRAST = 0.12;

/**
 * Finds where the code within a card's frame lies, by the squares that are the same in all codes (finder, timing and alignment
 * patterns: ISO/IEC 18004, 6.3): at first where the frame says, for each version and each turn; then moved corner by corner.
 * @param corners of the frame's line, px, from any of them on
 * @returns the likeliest first
 */
export function placeCode(
  picture: Picture,
  corners: readonly Point[],
  versions: readonly number[],
): CodePlace[] {
  const places = versions.flatMap((version) =>
    [0, 1, 2, 3].map((turn): CodePlace => {
      const map = cardMap(corners.map((_, i) => corners[(i + turn) % 4] as Point));
      const inset = (QUIET * CARD.code.width) / (squaresOf(version) + 2 * QUIET);
      const [left, top] = [CARD.code.x + inset, CARD.code.y + inset];
      const [right, low] = [CARD.code.x + CARD.code.width - inset, CARD.code.y + CARD.code.height - inset];
      const at = [
        { x: left, y: top },
        { x: right, y: top },
        { x: right, y: low },
        { x: left, y: low },
      ].map((on) => project(map, on));
      return { version, corners: at, contrast: contrastOf(picture, at, version) };
    }),
  );
  const likely = places.sort((a, b) => b.contrast - a.contrast).slice(0, LIKELY);
  return likely
    .map((place) => moved(picture, place))
    .filter(({ contrast }) => contrast >= LEAST_CONTRAST)
    .sort((a, b) => b.contrast - a.contrast);
}

/** So many of the likeliest places are moved to fit (own choice). */
const LIKELY = 2;

const squaresOf = (version: number) => 17 + 4 * version;

/** From squares on a code to px. */
const codeMap = (corners: readonly Point[], count: number) =>
  fitHomography(
    [
      { x: 0, y: 0 },
      { x: count, y: 0 },
      { x: count, y: count },
      { x: 0, y: count },
    ],
    corners,
  );

function moved(picture: Picture, place: CodePlace): CodePlace {
  const { version } = place;
  const [a, , c] = place.corners as [Point, Point, Point];
  const square = Math.hypot(c.x - a.x, c.y - a.y) / Math.SQRT2 / squaresOf(version);
  let best = place;
  const take = (corners: Point[]) => {
    const contrast = contrastOf(picture, corners, version);
    if (contrast > best.contrast) best = { version, corners, contrast };
  };
  for (const step of STEPS) {
    const by = step * square;
    const ways = [
      { x: by, y: 0 },
      { x: -by, y: 0 },
      { x: 0, y: by },
      { x: 0, y: -by },
    ];
    for (const way of ways) take(best.corners.map(({ x, y }) => ({ x: x + way.x, y: y + way.y })));
    for (const i of [0, 1, 2, 3])
      for (const way of ways)
        take(best.corners.map((at, k) => (k === i ? { x: at.x + way.x, y: at.y + way.y } : at)));
  }
  return best;
}

function contrastOf(picture: Picture, corners: readonly Point[], version: number): number {
  const map = codeMap(corners, squaresOf(version));
  const sums = { light: 0, dark: 0 };
  const counts = { light: 0, dark: 0 };
  for (const { x, y, kind } of knownSquares(version)) {
    sums[kind] += brightnessAt(picture, project(map, { x: x + 0.5, y: y + 0.5 }));
    counts[kind]++;
  }
  const [light, dark] = [sums.light / counts.light, sums.dark / counts.dark];
  return (light - dark) / Math.max(1e-6, light);
}

interface Known {
  x: number;
  y: number;
  kind: 'light' | 'dark';
}

const known = new Map<number, Known[]>();

/** The squares that are the same in all codes of a version, with those of the quiet zone that touch a finder pattern. */
function knownSquares(version: number): Known[] {
  const there = known.get(version);
  if (there !== undefined) return there;
  const count = squaresOf(version);
  const squares: Known[] = [];
  const add = (x: number, y: number, isDark: boolean) =>
    squares.push({ x, y, kind: isDark ? 'dark' : 'light' });
  for (const [left, top] of [
    [0, 0],
    [count - 7, 0],
    [0, count - 7],
  ] as const)
    for (let y = -1; y <= 7; y++)
      for (let x = -1; x <= 7; x++) {
        const ring = Math.max(Math.abs(x - 3), Math.abs(y - 3));
        add(left + x, top + y, ring === 3 || ring < 2);
      }
  for (let i = 8; i < count - 8; i++) {
    add(i, 6, i % 2 === 0);
    add(6, i, i % 2 === 0);
  }
  if (version > 1)
    for (let y = -2; y <= 2; y++)
      for (let x = -2; x <= 2; x++)
        add(count - 7 + x, count - 7 + y, Math.max(Math.abs(x), Math.abs(y)) !== 1);
  known.set(version, squares);
  return squares;
}

/** Where within a square its light is looked at. */
const WITHIN = [0.35, 0.5, 0.65];

/**
 * Draws a code anew, square by square, so that one can be read whose squares are too small or too soft to be found by themselves.
 * @param sharpened how much more a square differs from those beside it than the picture shows: blur spreads each over them
 */
export function drawCode(picture: Picture, { version, corners }: CodePlace, sharpened: number): CodeDrawing {
  const count = squaresOf(version);
  const map = codeMap(corners, count);
  const light = Float32Array.from({ length: count * count }, (_, at) => {
    const [x, y] = [at % count, Math.floor(at / count)];
    let sum = 0;
    for (const down of WITHIN)
      for (const right of WITHIN) sum += brightnessAt(picture, project(map, { x: x + right, y: y + down }));
    return sum / WITHIN.length ** 2;
  });
  const dark = darkSquares(light, count, sharpened);
  const whole = count + 2 * QUIET;
  const side = whole * LARGE;
  return {
    px: Uint8Array.from({ length: side * side }, (_, at) => {
      const x = Math.floor((at % side) / LARGE) - QUIET;
      const y = Math.floor(Math.floor(at / side) / LARGE) - QUIET;
      const isWithin = x >= 0 && y >= 0 && x < count && y < count;
      return isWithin && dark[y * count + x] === 1 ? 0 : 255;
    }),
    side,
    toPicture: ({ x, y }) => project(map, { x: x / LARGE - QUIET, y: y / LARGE - QUIET }),
  };
}

/** So many squares to each side tell what is light and what is dark around one. */
const NEAR = 5;

/** 1 for each square that is dark against those around it. */
function darkSquares(light: Float32Array, count: number, sharpened: number): Uint8Array {
  const at = (of: Float32Array, x: number, y: number) =>
    of[Math.min(count - 1, Math.max(0, y)) * count + Math.min(count - 1, Math.max(0, x))] as number;
  const clear = light.map((value, i) => {
    const [x, y] = [i % count, Math.floor(i / count)];
    const beside = at(light, x - 1, y) + at(light, x + 1, y) + at(light, x, y - 1) + at(light, x, y + 1);
    return value + sharpened * (value - beside / 4);
  });
  return Uint8Array.from(clear, (value, i) => {
    const [x, y] = [i % count, Math.floor(i / count)];
    let [least, most] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (let row = y - NEAR; row <= y + NEAR; row++)
      for (let column = x - NEAR; column <= x + NEAR; column++) {
        const other = at(clear, column, row);
        [least, most] = [Math.min(least, other), Math.max(most, other)];
      }
    return value < (least + most) / 2 ? 1 : 0;
  });
}

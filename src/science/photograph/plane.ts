import { CARD, CORNERS, type Corner, cardPlace, frameCorners, type Point } from './card.ts';
import { fitHomography, project } from './homography.ts';
import { leastSquares } from './least-squares.ts';

/** How a rack lies in a picture. */
export interface Plane {
  /** The rack's width and depth as the cards tell them, mm. */
  width: number;
  depth: number;
  /** From mm on the rack (from its back left corner, to the right and to the front) to px. */
  toPixel(on: Point): Point;
  /** How far the 16 corners lie from where the plane has them, mm (root mean square). */
  residual: number;
  /** How far the camera looked from the side, degrees from straight down. */
  tilt: number;
  /** Pixels a millimetre in the rack's middle. */
  scale: number;
  /** How the lens bends the picture: the change of radius at its corners. */
  bend: number;
}

/** How much lens is thought likely, in the residuals' own mm: a lens of 3 % costs as much as 0.3 mm (own choice). */
const LENS = 0.1;

const lineCorners = frameCorners(CARD.line / 2);

/** The 16 corners on a rack of this size, mm. */
const cornersOn = (size: { width: number; depth: number }): Point[] =>
  CORNERS.flatMap((corner) => {
    const at = cardPlace(corner, size);
    return lineCorners.map(({ x, y }) => ({ x: x + at.x, y: y + at.y }));
  });

/** The outermost corner of each card among the 16. */
const OUTERMOST = [0, 5, 11, 14];

/**
 * Fits a rack's plane to the corners of its four cards: a homography, one term for the lens, and the rack's own width and
 * depth, since the cards are of known size and lie at its corners. All 16 points count alike, in mm.
 * @param found the corners of each card's frame, px
 */
export function fitPlane(
  found: Readonly<Record<Corner, readonly Point[]>>,
  picture: { width: number; height: number },
): Plane {
  const seen = CORNERS.flatMap((corner) => found[corner]);
  const scale = meanSide(seen) / (CARD.frame.width - CARD.line);
  const between = (one: number, other: number) => {
    const [a, b] = [seen[one] as Point, seen[other] as Point];
    return Math.hypot(a.x - b.x, a.y - b.y) / scale;
  };
  const size = {
    width: (between(0, 4) + between(8, 12)) / 2 - CARD.width,
    depth: (between(0, 8) + between(4, 12)) / 2 + CARD.height,
  };
  const lens = lensOf(picture);
  const start = [...OUTERMOST.flatMap((i) => [seen[i]?.x ?? 0, seen[i]?.y ?? 0]), size.width, size.depth, 0];
  const best = leastSquares(
    (parameters) => {
      const { map, bend, corners } = readParameters(parameters);
      const apart = corners.flatMap((corner, i) => {
        const { x, y } = lens(project(map, corner), bend);
        return [(x - (seen[i]?.x ?? 0)) / scale, (y - (seen[i]?.y ?? 0)) / scale];
      });
      return [...apart, bend * (LENS / 0.01)];
    },
    start,
    [...Array.from({ length: 8 }, () => 0.01), 0.01, 0.01, 1e-5],
  );
  return planeOf(best, seen, lens);
}

const at = (of: readonly number[], i: number) => of[i] as number;

function readParameters(parameters: readonly number[]) {
  const size = { width: at(parameters, 8), depth: at(parameters, 9) };
  const corners = cornersOn(size);
  const map = fitHomography(
    OUTERMOST.map((i) => corners[i] as Point),
    [0, 2, 4, 6].map((i) => ({ x: at(parameters, i), y: at(parameters, i + 1) })),
  );
  return { size, corners, map, bend: at(parameters, 10) };
}

/** Moves a place as a lens does: outwards from the picture's middle with the square of the radius (1 at the corner). */
function lensOf({ width, height }: { width: number; height: number }) {
  const [x0, y0, far] = [width / 2, height / 2, Math.hypot(width, height) / 2];
  return ({ x, y }: Point, bend: number): Point => {
    const [right, down] = [x - x0, y - y0];
    const grown = 1 + bend * ((right * right + down * down) / (far * far));
    return { x: x0 + right * grown, y: y0 + down * grown };
  };
}

function planeOf(
  best: readonly number[],
  seen: readonly Point[],
  lens: (at: Point, bend: number) => Point,
): Plane {
  const { size, corners, map, bend } = readParameters(best);
  const toPixel = (on: Point) => lens(project(map, on), bend);
  const middle = { x: size.width / 2, y: size.depth / 2 };
  const { larger, smaller } = stretchAt(toPixel, middle);
  const squares = corners.map((corner, i) => {
    const { x, y } = toPixel(corner);
    return (x - (seen[i]?.x ?? 0)) ** 2 + (y - (seen[i]?.y ?? 0)) ** 2;
  });
  const scale = Math.sqrt(larger * smaller);
  return {
    ...size,
    ...{ toPixel, scale, bend },
    residual: Math.sqrt(squares.reduce((sum, square) => sum + square, 0) / squares.length) / scale,
    tilt: (Math.acos(Math.min(1, smaller / larger)) * 180) / Math.PI,
  };
}

/** The most and the least px a mm at a place (singular values of the map's slope). */
export function stretchAt(
  toPixel: (on: Point) => Point,
  { x, y }: Point,
): { larger: number; smaller: number } {
  const [here, right, down] = [toPixel({ x, y }), toPixel({ x: x + 1, y }), toPixel({ x, y: y + 1 })];
  const [a, b, c, d] = [right.x - here.x, down.x - here.x, right.y - here.y, down.y - here.y];
  const [sum, apart] = [Math.hypot(a + d, c - b), Math.hypot(a - d, c + b)];
  return { larger: (sum + apart) / 2, smaller: Math.abs(sum - apart) / 2 };
}

function meanSide(corners: readonly Point[]): number {
  const sides = corners.map((corner, i) => {
    const next = corners[4 * Math.floor(i / 4) + ((i + 1) % 4)] as Point;
    return Math.hypot(next.x - corner.x, next.y - corner.y);
  });
  return sides.reduce((sum, side) => sum + side, 0) / sides.length;
}

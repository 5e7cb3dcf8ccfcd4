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

/** Whether some cards tell where a whole rack lies: three of them, or two across from each other. */
export const isEnough = (of: FoundFrames): boolean =>
  Object.keys(of).length >= 3 ||
  (of['back-left'] !== undefined && of['front-right'] !== undefined) ||
  (of['back-right'] !== undefined && of['front-left'] !== undefined);

/** How much lens is thought likely, in the residuals' own mm: a lens of 3 % costs as much as 0.3 mm (own choice). */
const LENS = 0.1;

const lineCorners = frameCorners(CARD.line / 2);

/** The 16 corners on a rack of this size, mm. */
const cornersOn = (size: { width: number; depth: number }): Point[] =>
  CORNERS.flatMap((corner) => {
    const at = cardPlace(corner, size);
    return lineCorners.map(({ x, y }) => ({ x: x + at.x, y: y + at.y }));
  });

/** The corners of the frames of some of a rack's cards, px. At least three cards, or two that lie across from each other. */
export type FoundFrames = Readonly<Partial<Record<Corner, readonly Point[]>>>;

/**
 * Fits a rack's plane to the corners of its cards: a homography, one term for the lens, and the rack's own width and depth,
 * since the cards are of known size and lie at its corners. All points (16 of four cards) count alike, in mm.
 * @param lens whether it is thought to be an ordinary one, or is left free with a second term (radius to the fourth)
 */
export function fitPlane(
  found: FoundFrames,
  picture: { width: number; height: number },
  lens: 'ordinary' | 'free' = 'ordinary',
): Plane {
  const numbers = CORNERS.flatMap((corner, n) =>
    found[corner] === undefined ? [] : [0, 1, 2, 3].map((i) => 4 * n + i),
  );
  const seen = CORNERS.flatMap((corner) => found[corner] ?? []);
  const scale = meanSide(seen) / (CARD.frame.width - CARD.line);
  const anchors = anchorsOf(seen);
  const about: About = { seen, numbers, anchors: anchors.map((i) => numbers[i] as number), picture };
  const start = [
    ...anchors.flatMap((i) => [seen[i]?.x ?? 0, seen[i]?.y ?? 0]),
    ...firstSize(found, scale),
    ...[0, 0],
  ];
  const best = leastSquares(
    (parameters) => {
      const { toPixel, corners, bend, further } = readParameters(parameters, about);
      const apart = numbers.flatMap((number, i) => {
        const { x, y } = toPixel(corners[number] as Point);
        return [(x - (seen[i]?.x ?? 0)) / scale, (y - (seen[i]?.y ?? 0)) / scale];
      });
      const thought = lens === 'ordinary' ? LENS : LENS / 30;
      return [
        ...apart,
        bend * (thought / 0.01),
        further * ((lens === 'ordinary' ? 1e3 : 1) * (thought / 0.01)),
      ];
    },
    start,
    [...Array.from({ length: 8 }, () => 0.01), 0.01, 0.01, 1e-5, 1e-5],
  );
  return planeOf(best, about);
}

/** What a fit goes by: the corners that were seen, which of the 16 they are, and the four among these that carry the map. */
interface About {
  seen: readonly Point[];
  numbers: readonly number[];
  anchors: readonly number[];
  picture: { width: number; height: number };
}

/** Width and depth as the cards' distances tell them, mm. */
function firstSize(found: FoundFrames, scale: number): [number, number] {
  const between = (one: Corner, other: Corner) => {
    const [a, b] = [found[one]?.[0], found[other]?.[0]];
    return a === undefined || b === undefined ? [] : [Math.hypot(a.x - b.x, a.y - b.y) / scale];
  };
  const meanOf = (values: readonly number[], otherwise: number) =>
    values.length === 0 ? otherwise : values.reduce((sum, value) => sum + value, 0) / values.length;
  const across = [between('back-left', 'front-right'), between('back-right', 'front-left')].flat();
  const half = meanOf(across, 400) * Math.SQRT1_2;
  const width = [between('back-left', 'back-right'), between('front-left', 'front-right')].flat();
  const depth = [between('back-left', 'front-left'), between('back-right', 'front-right')].flat();
  return [meanOf(width, half) - CARD.width, meanOf(depth, half) + CARD.height];
}

/** Four of the points of which no three lie near a line: those whose least triangle is largest. */
function anchorsOf(points: readonly Point[]): number[] {
  const triangle = (i: number, j: number, k: number) => {
    const [a, b, c] = [points[i], points[j], points[k]] as [Point, Point, Point];
    return Math.abs((b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x));
  };
  let [best, most] = [[0, 1, 2, 3], -1];
  for (let i = 0; i < points.length; i++)
    for (let j = i + 1; j < points.length; j++)
      for (let k = j + 1; k < points.length; k++) {
        const first = triangle(i, j, k);
        if (first <= most) continue;
        for (let l = k + 1; l < points.length; l++) {
          const least = Math.min(first, triangle(i, j, l), triangle(i, k, l), triangle(j, k, l));
          if (least > most) [best, most] = [[i, j, k, l], least];
        }
      }
  return best;
}

const at = (of: readonly number[], i: number) => of[i] as number;

function readParameters(parameters: readonly number[], { anchors, picture }: About) {
  const size = { width: at(parameters, 8), depth: at(parameters, 9) };
  const corners = cornersOn(size);
  const map = fitHomography(
    anchors.map((i) => corners[i] as Point),
    [0, 2, 4, 6].map((i) => ({ x: at(parameters, i), y: at(parameters, i + 1) })),
  );
  const [bend, further] = [at(parameters, 10), at(parameters, 11)];
  const toPixel = (on: Point) => throughLens(project(map, on), picture, bend, further);
  return { size, corners, toPixel, bend, further };
}

/** Moves a place as a lens does: outwards from the picture's middle with the square of the radius (1 at the corner), and its fourth power. */
function throughLens(
  { x, y }: Point,
  { width, height }: { width: number; height: number },
  bend: number,
  further: number,
): Point {
  const [x0, y0] = [width / 2, height / 2];
  const [right, down] = [x - x0, y - y0];
  const square = (right * right + down * down) / (x0 * x0 + y0 * y0);
  const grown = 1 + bend * square + further * square * square;
  return { x: x0 + right * grown, y: y0 + down * grown };
}

function planeOf(best: readonly number[], about: About): Plane {
  const { size, corners, toPixel, bend } = readParameters(best, about);
  const middle = { x: size.width / 2, y: size.depth / 2 };
  const { larger, smaller } = stretchAt(toPixel, middle);
  const squares = about.numbers.map((number, i) => {
    const { x, y } = toPixel(corners[number] as Point);
    return (x - (about.seen[i]?.x ?? 0)) ** 2 + (y - (about.seen[i]?.y ?? 0)) ** 2;
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

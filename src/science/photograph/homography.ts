import { Matrix, SVD } from 'ml-matrix';
import type { Point } from './card.ts';

/** A projective map of one plane onto another: nine numbers, row by row. */
export type Homography = readonly number[];

const entry = (of: readonly number[], i: number) => of[i] as number;

/** Where the map takes a point. */
export function project(of: Homography, { x, y }: Point): Point {
  const w = entry(of, 6) * x + entry(of, 7) * y + entry(of, 8);
  return {
    x: (entry(of, 0) * x + entry(of, 1) * y + entry(of, 2)) / w,
    y: (entry(of, 3) * x + entry(of, 4) * y + entry(of, 5)) / w,
  };
}

const times = (a: Homography, b: Homography): number[] =>
  [0, 1, 2].flatMap((row) =>
    [0, 1, 2].map((column) =>
      [0, 1, 2].reduce((sum, k) => sum + entry(a, 3 * row + k) * entry(b, 3 * k + column), 0),
    ),
  );

/** The map back. */
export function inverseOf(of: Homography): number[] {
  const [a, b, c, d, e, f, g, h, i] = of as [
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
    number,
  ];
  const [A, B, C] = [e * i - f * h, f * g - d * i, d * h - e * g];
  const det = a * A + b * B + c * C;
  return [
    A,
    c * h - b * i,
    b * f - c * e,
    B,
    a * i - c * g,
    c * d - a * f,
    C,
    b * g - a * h,
    a * e - b * d,
  ].map((minor) => minor / det);
}

/** Moves points to their mean and scales them to a mean distance of the square root of 2 (Hartley 1997). */
function normaliser(points: readonly Point[]): number[] {
  const x = points.reduce((sum, point) => sum + point.x, 0) / points.length;
  const y = points.reduce((sum, point) => sum + point.y, 0) / points.length;
  const far = points.reduce((sum, point) => sum + Math.hypot(point.x - x, point.y - y), 0) / points.length;
  const scale = Math.SQRT2 / far;
  return [scale, 0, -scale * x, 0, scale, -scale * y, 0, 0, 1];
}

/**
 * The map that takes one set of points nearest to another: the normalised direct linear transform (Hartley 1997; Hartley
 * and Zisserman 2004, algorithm 4.2).
 * @param from at least four points, no three of the four on a line
 */
export function fitHomography(from: readonly Point[], to: readonly Point[]): Homography {
  const [normalFrom, normalTo] = [normaliser(from), normaliser(to)];
  const rows = from.flatMap((point, i) => {
    const { x, y } = project(normalFrom, point);
    const { x: u, y: v } = project(normalTo, to[i] as Point);
    return [
      [x, y, 1, 0, 0, 0, -u * x, -u * y, -u],
      [0, 0, 0, x, y, 1, -v * x, -v * y, -v],
    ];
  });
  // A ninth row of nothing keeps the last direction among those that the library returns.
  while (rows.length < 9) rows.push(Array.from({ length: 9 }, () => 0));
  const smallest = new SVD(new Matrix(rows), { autoTranspose: true }).rightSingularVectors.getColumn(8);
  const plain = times(inverseOf(normalTo), times(smallest, normalFrom));
  return plain.map((value) => value / entry(plain, 8));
}

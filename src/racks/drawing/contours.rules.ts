import type { Cell } from '../../farm/racks/slots.rules.ts';

type Point = [column: number, row: number];

/** A line of equal light as straight segments, in slots from the rack's back left corner. They run past its edges. */
export interface Contour {
  value: number;
  segments: [from: Point, to: Point][];
}

interface Corner {
  at: Point;
  value: number;
}

/**
 * Lines of equal value between the middles of slots, by marching squares with linear interpolation. There is no line
 * beside a slot without a value. The values at the edge are repeated one slot further out, so that lines run off the
 * rack instead of ending at its outermost slots.
 */
export function contourLines<T extends Cell>(
  slots: readonly T[],
  { rows, columns, lightOf }: { rows: number; columns: number; lightOf: (slot: T) => number | null },
  values: readonly number[],
): Contour[] {
  const known = new Map(slots.map((slot) => [`${slot.row} ${slot.column}`, lightOf(slot)]));
  const within = (n: number, last: number) => Math.min(Math.max(n, 1), last);
  const grid = Array.from({ length: rows + 2 }, (_, row) =>
    Array.from({ length: columns + 2 }, (_none, column): Corner | null => {
      const value = known.get(`${within(row, rows)} ${within(column, columns)}`) ?? null;
      return value === null ? null : { at: [column - 0.5, row - 0.5], value };
    }),
  );
  const squares = grid.slice(1).flatMap((line, i) =>
    line.slice(1).flatMap((_, j): Corner[][] => {
      const above = grid[i] ?? [];
      const corners = [above[j], above[j + 1], line[j + 1], line[j]];
      return corners.every((corner) => corner != null) ? [corners as Corner[]] : [];
    }),
  );
  return values
    .map((value) => ({ value, segments: squares.flatMap((corners) => segmentsIn(corners, value)) }))
    .filter(({ segments }) => segments.length > 0);
}

/** The segments of a line in a square of four slots: one, or two over a saddle (two opposite corners above the value). */
function segmentsIn(corners: readonly Corner[], value: number): Contour['segments'] {
  const points = corners.flatMap((corner, i): Point[] => {
    const next = corners[(i + 1) % 4] as Corner;
    return corner.value >= value === next.value >= value ? [] : [between(corner, next, value)];
  });
  const [a, b, c, d] = points;
  if (a === undefined || b === undefined) return [];
  if (c === undefined || d === undefined) return [[a, b]];
  // Over a saddle the mean of the corners decides which two of them are joined.
  const middle = corners.reduce((sum, corner) => sum + corner.value, 0) / 4;
  const joined = middle >= value === (corners[0] as Corner).value >= value;
  return joined
    ? [
        [a, b],
        [c, d],
      ]
    : [
        [d, a],
        [b, c],
      ];
}

function between(from: Corner, to: Corner, value: number): Point {
  const share = (value - from.value) / (to.value - from.value);
  return [from.at[0] + share * (to.at[0] - from.at[0]), from.at[1] + share * (to.at[1] - from.at[1])];
}

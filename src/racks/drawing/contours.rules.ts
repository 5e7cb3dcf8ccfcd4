import type { Cell } from '../../farm/racks/slots.rules.ts';

type Point = [column: number, row: number];

/** A line of one value (light) as straight pieces, in slots from the rack's back left corner; they run off its edges. */
export interface Contour {
  value: number;
  pieces: [from: Point, to: Point][];
}

interface Corner {
  at: Point;
  value: number;
}

/**
 * Lines of equal value through the middles of slots, by marching squares with straight interpolation. None where a
 * slot's value is not known: a line would make it up. The edge is continued by one slot, so that lines run off the rack.
 */
export function contourLines<T extends Cell>(
  slots: readonly T[],
  { rows, columns, levelOf }: { rows: number; columns: number; levelOf: (slot: T) => number | null },
  values: readonly number[],
): Contour[] {
  const known = new Map(slots.map((slot) => [`${slot.row} ${slot.column}`, levelOf(slot)]));
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
    .map((value) => ({ value, pieces: squares.flatMap((corners) => crossing(corners, value)) }))
    .filter(({ pieces }) => pieces.length > 0);
}

/** Where a line crosses a square of four slots: one piece, or two over a saddle. */
function crossing(corners: readonly Corner[], value: number): Contour['pieces'] {
  const points = corners.flatMap((corner, i): Point[] => {
    const next = corners[(i + 1) % 4] as Corner;
    return corner.value >= value === next.value >= value ? [] : [between(corner, next, value)];
  });
  const [a, b, c, d] = points;
  if (a === undefined || b === undefined) return [];
  if (c === undefined || d === undefined) return [[a, b]];
  // Over a saddle the middle tells which two corners belong together.
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

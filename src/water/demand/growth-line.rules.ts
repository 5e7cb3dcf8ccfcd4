/** The use in one window of the past, with the error of its tests; canonical unit a day. */
export interface WindowUse {
  day: number;
  use: number;
  error: number;
}

/** What the past leads to on a day. */
export interface GrowthLine {
  /** The use to expect by the growth seen in the past; the mean where it did not grow. */
  expected: number;
  /** The spread (SD) of single windows about it, and the standard error of `expected`. */
  spread: number;
  sd: number;
  /** The past grew by more than chance makes it. */
  isClear: boolean;
}

/** The spread assumed before windows have shown it, as a part of the use, and the number of windows it counts as; by simulation. */
export const prior = { windows: 10, share: 0.07 };
/** A window further from the line than this many spreads is moved to that distance, so that one slip does not widen the spread. */
const outlierLimit = 2.5;
/** A past that rises by this many of its standard errors has grown; own choice. */
const clearlyGrown = 2.5;
/** A use below this part of the middle one counts as that: its logarithm says more than its test does. Own choice. */
const leastShare = 0.25;

/**
 * The growth of the past carried on to a day: a straight line through the logarithms, since stock that grows does so by a part
 * of itself, weighted by the error of each window. Where the past does not rise, its mean. Null where no use stands out.
 */
export function growthLine(rows: readonly WindowUse[], day: number): GrowthLine | null {
  const middle = median(rows.map(({ use }) => use));
  if (middle <= 0) return null;
  const points = rows.map((row) => {
    const use = Math.max(row.use, leastShare * middle);
    const own = row.error / use;
    return { x: row.day, y: Math.log(use), own, weight: 1 / (own ** 2 + prior.share ** 2) };
  });
  const first = fitted(points);
  // A window that lies far off, by a slip or since the use fell in it, moves the line by no more than its reach.
  const reach = reachOf(points, first.at);
  const pulled = points.map((point) => {
    const off = point.y - first.at(point.x);
    return { ...point, y: first.at(point.x) + Math.max(-reach, Math.min(reach, off)) };
  });
  const line = fitted(pulled);
  const spread = spreadAbout(points, line.at);
  const expected = Math.exp(line.at(day));
  return {
    expected,
    spread: expected * spread,
    sd: expected * spread * line.leverage(day),
    isClear: line.steepness >= clearlyGrown * spread,
  };
}

/** The weighted line where it rises, else the weighted mean; `leverage`: its standard error in spreads; `steepness`: its slope in those of it. */
function fitted(points: readonly Point[]) {
  const total = points.reduce((sum, { weight }) => sum + weight, 0);
  const center = points.reduce((sum, { x, weight }) => sum + x * weight, 0) / total;
  const mean = points.reduce((sum, { y, weight }) => sum + y * weight, 0) / total;
  const square = points.reduce((sum, { x, weight }) => sum + weight * (x - center) ** 2, 0);
  const cross = points.reduce((sum, { x, y, weight }) => sum + weight * (x - center) * (y - mean), 0);
  const slope = Math.max(0, cross / square);
  // In windows of average weight.
  const usual = total / points.length;
  return {
    at: (x: number) => mean + slope * (x - center),
    leverage: (x: number) => Math.sqrt((1 / total + (slope > 0 ? (x - center) ** 2 / square : 0)) * usual),
    steepness: slope * Math.sqrt(square / usual),
  };
}

type Point = { x: number; y: number; own: number; weight: number };

/** How far off a line a window counts. */
function reachOf(points: readonly Point[], line: (x: number) => number): number {
  const off = points.map(({ x, y }) => y - line(x));
  const center = median(off);
  const error = median(points.map(({ own }) => own));
  return outlierLimit * Math.max(1.4826 * median(off.map((one) => Math.abs(one - center))), error);
}

/** Relative spread about a line with outliers pulled in, pooled with the one assumed before any window. */
function spreadAbout(points: readonly Point[], line: (x: number) => number): number {
  const error = median(points.map(({ own }) => own));
  const reach = reachOf(points, line);
  const square = points.reduce(
    (sum, { x, y }) => sum + Math.max(-reach, Math.min(reach, y - line(x))) ** 2,
    0,
  );
  const assumed = prior.windows * (error ** 2 + prior.share ** 2);
  return Math.sqrt((assumed + square) / (prior.windows + points.length - 1));
}

export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = (sorted.length - 1) / 2;
  return ((sorted[Math.floor(half)] ?? 0) + (sorted[Math.ceil(half)] ?? 0)) / 2;
}

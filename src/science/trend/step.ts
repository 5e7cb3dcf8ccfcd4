import { median } from 'd3-array';
import { normalQuantile } from '../normal.ts';
import { inRange } from '../range.ts';
import { inTime, order, type Point } from './points.ts';

export interface Step {
  /** Time of the first point after the step, and how many points lie before it. */
  time: number;
  before: number;
  /** Pettitt's K, and the two-sided probability of as large a one by chance (approximate, never above 1). */
  K: number;
  p: number;
  /** Level after less level before: median of all differences, with its interval. */
  size: number;
  low: number;
  high: number;
}

/**
 * Looks for one step in the level of at least 8 points: when it most likely was, how large, and whether chance makes
 * as large a one. Bounds are taken as in the Mann-Kendall test; for the size a bound counts as its value.
 *
 * Pettitt 1979; size by Hodges & Lehmann 1963, interval by the normal approximation to the Mann-Whitney statistic
 * (Hollander & Wolfe 1999, 4.3, from memory). A trend also makes K large: look at it first.
 *
 * @param level probability of the interval (0.95 when left out)
 */
export function detectStep(points: readonly Point[], level = 0.95): Step {
  const sorted = inTime(points, 8);
  const n = sorted.length;
  const ranks = sorted.map((a) => sorted.reduce((sum, b) => sum - order(a, b), 0));
  let [sum, K, before] = [0, 0, 1];
  for (const [i, rank] of ranks.slice(0, -1).entries()) {
    sum += rank;
    if (Math.abs(sum) > K) [K, before] = [Math.abs(sum), i + 1];
  }
  const shift = shiftBetween(sorted.slice(0, before), sorted.slice(before), level);
  return {
    time: sorted[before]?.time ?? 0,
    before,
    K,
    p: Math.min(1, 2 * Math.exp((-6 * K * K) / (n ** 3 + n ** 2))),
    ...shift,
  };
}

/** Hodges-Lehmann shift from `before` to `after` with its interval. */
export function shiftBetween(
  before: readonly Point[],
  after: readonly Point[],
  level = 0.95,
): { size: number; low: number; high: number } {
  inRange(Math.min(before.length, after.length), 1, Number.MAX_SAFE_INTEGER, 'number of points on a side');
  const differences = before.flatMap((a) => after.map((b) => b.value - a.value)).sort((a, b) => a - b);
  const [m, n] = [before.length, after.length];
  const reach = normalQuantile((1 + inRange(level, 0.5, 0.999, 'probability')) / 2);
  const rank = Math.max(1, Math.round((m * n + 1) / 2 - reach * Math.sqrt((m * n * (m + n + 1)) / 12)));
  const [low, high] = [differences[rank - 1], differences[differences.length - rank]];
  const size = median(differences) ?? 0;
  return { size, low: low ?? size, high: high ?? size };
}

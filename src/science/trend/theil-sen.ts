import { median } from 'd3-array';
import { inRange } from '../numeric/range.ts';
import { normalQuantile } from '../statistics/normal.ts';
import { kendallScore } from './mann-kendall.ts';
import { inTime, type Point } from './points.ts';

export interface TheilSen {
  /** Change of the value by unit of time; null when no pair of points has a slope. */
  slope: number | null;
  /** Interval of the slope; null where the points set no limit on that side. */
  low: number | null;
  high: number | null;
  /** Value at time 0: median of value - slope x time (a bound counts as its value). */
  intercept: number | null;
  /** Number of pairs with a slope, whole or bounded. */
  pairs: number;
}

/**
 * Theil-Sen slope of at least 3 points at any times: the slope at which Kendall's S of what is left is 0. Without
 * bounds that is the median of all pairs' slopes; a pair with one bounded value says of the slope only that it lies
 * above (or below) its own, and counts half.
 *
 * Theil 1950, Sen 1968; interval by Gilbert 1987, 16.5, between ranks on a straight line; for bounds the slope of
 * Akritas, Murphy & LaValley 1995 (from memory).
 *
 * @param level probability of the interval (0.95 when left out)
 */
export function theilSen(points: readonly Point[], level = 0.95): TheilSen {
  const sorted = inTime(points, 3);
  inRange(level, 0.5, 0.999, 'probability');
  const { slopes, unit, start, pairs } = pairSlopes(sorted);
  if (slopes.length === 0) return { slope: null, low: null, high: null, intercept: null, pairs };
  const reach = normalQuantile((1 + level) / 2) * Math.sqrt(kendallScore(sorted).varS);
  const at = (weight: number) => between(slopes, weight / unit);
  const slope = middle(slopes, start / unit);
  return {
    slope,
    low: at(start - reach),
    high: at(start + reach + 2),
    intercept: slope === null ? null : (median(sorted, ({ time, value }) => value - slope * time) ?? null),
    pairs,
  };
}

interface Slopes {
  /** Sorted; with bounds about, every whole slope stands twice and every bounded one once. */
  slopes: Float64Array;
  /** By how much S falls where the trial slope passes one entry. */
  unit: 1 | 2;
  /** S at a trial slope below all. */
  start: number;
  pairs: number;
}

function pairSlopes(points: readonly Point[]): Slopes {
  const unit = points.some(({ bound }) => bound) ? 1 : 2;
  const slopes = new Float64Array((points.length * (points.length - 1)) / unit);
  let [count, start, pairs] = [0, 0, 0];
  for (let j = 1; j < points.length; j++) {
    const b = points[j] as Point;
    for (let i = 0; i < j; i++) {
      const a = points[i] as Point;
      const steps = stepOf(a, b);
      if (a.time === b.time || steps.fall === 0) continue;
      const slope = (b.value - a.value) / (b.time - a.time);
      for (let k = 0; k < steps.fall / unit; k++) slopes[count++] = slope;
      start += steps.start;
      pairs += 1;
    }
  }
  return { slopes: slopes.subarray(0, count).sort(), unit, start, pairs };
}

interface PairStep {
  start: 0 | 1;
  fall: 0 | 1 | 2;
}

const WHOLE: PairStep = { start: 1, fall: 2 };

/** What a pair adds to S at a low trial slope, and by how much that falls where the trial slope passes its own. */
function stepOf(a: Point, b: Point): PairStep {
  if (!a.bound && !b.bound) return WHOLE;
  const rises = a.bound !== 'above' && b.bound !== 'below';
  const falls = a.bound !== 'below' && b.bound !== 'above';
  return rises ? { start: 1, fall: 1 } : { start: 0, fall: falls ? 1 : 0 };
}

/** Where S passes 0: an entry, or the middle between two when S is 0 all the way between them. */
function middle(slopes: Float64Array, rank: number): number | null {
  const here = entry(slopes, Math.ceil(rank));
  if (!Number.isInteger(rank) || here === null) return here;
  const next = entry(slopes, rank + 1);
  return next === null ? null : (here + next) / 2;
}

/** The entry of a rank (1 the lowest), between ranks on a straight line; null beyond the ends. */
function between(slopes: Float64Array, rank: number): number | null {
  const low = entry(slopes, Math.floor(rank));
  const high = entry(slopes, Math.ceil(rank));
  return low === null || high === null ? null : low + (high - low) * (rank - Math.floor(rank));
}

function entry(slopes: Float64Array, rank: number): number | null {
  return slopes[rank - 1] ?? null;
}

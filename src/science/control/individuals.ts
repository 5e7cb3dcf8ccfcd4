import { mean, pairs } from 'd3-array';
import { finite, inRange } from '../range.ts';

/** Factors of the moving range of two, as tabled (3 decimals): d2 and D4 of ISO 7870-2 and the NIST handbook. */
const D2 = 1.128;
const D4 = 3.267;

export interface IndividualsChart {
  center: number;
  lower: number;
  upper: number;
  /** SD of single values by the mean moving range. */
  sd: number;
  meanMovingRange: number;
  movingRanges: number[];
  /** Upper limit of a moving range; the lower one is 0. */
  movingRangeUpper: number;
}

/**
 * Control chart of single values in their order, at least 2: limits at mean +- 3 x mean moving range / 1.128.
 *
 * NIST/SEMATECH e-Handbook 6.3.2.2. Values that follow each other closely (a slow wander) make the limits too narrow.
 */
export function individualsChart(values: readonly number[]): IndividualsChart {
  inRange(values.length, 2, Number.MAX_SAFE_INTEGER, 'number of values');
  for (const value of values) finite(value, 'value');
  const movingRanges = pairs(values, (a, b) => Math.abs(b - a));
  const center = mean(values) ?? 0;
  const meanMovingRange = mean(movingRanges) ?? 0;
  const sd = meanMovingRange / D2;
  return {
    center,
    lower: center - 3 * sd,
    upper: center + 3 * sd,
    sd,
    meanMovingRange,
    movingRanges,
    movingRangeUpper: D4 * meanMovingRange,
  };
}

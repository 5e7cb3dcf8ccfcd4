import { median, quantileSorted } from 'd3-array';
import { daysBefore } from '../../science/numeric/time.ts';

/** A test in the wall of small charts; value in the quantity's unit. */
export interface WallPoint {
  at: Date;
  value: number;
  unconfirmed: boolean;
}

/** Where nine of ten tests lay, before the last fortnight; null with too few to say. */
export interface UsualBand {
  low: number;
  high: number;
}

/** Days that are judged against those before them, and tests that it takes to call something usual; own choices. */
const FRESH_DAYS = 14;
const LEAST_TESTS = 6;

/** What is usual for this water: the middle nine tenths of the confirmed tests before the last fortnight. */
export function usualBand(points: readonly WallPoint[], now: Date): UsualBand | null {
  const fresh = daysBefore(now, FRESH_DAYS);
  const values = points.filter(({ at, unconfirmed }) => at < fresh && !unconfirmed).map(({ value }) => value);
  if (values.length < LEAST_TESTS) return null;
  const sorted = values.sort((a, b) => a - b);
  return { low: quantileSorted(sorted, 0.05) ?? 0, high: quantileSorted(sorted, 0.95) ?? 0 };
}

/** The middle of a trace: what most of its confirmed tests lie around; null without any test. */
export const middleOf = (points: readonly WallPoint[]): number | null =>
  median(
    points.filter(({ unconfirmed }) => !unconfirmed),
    ({ value }) => value,
  ) ??
  median(points, ({ value }) => value) ??
  null;

/**
 * The one height, in the quantity's unit, of all charts of a column: each is centred on its own middle, and the widest
 * trace just fits. Otherwise noise would look like trouble.
 * @param least the smallest height: below it a chart would show the error of the test
 */
export function columnSpan(traces: readonly (readonly WallPoint[])[], least: number): number {
  const reach = traces.map((points) => {
    const middle = middleOf(points);
    return middle === null ? 0 : Math.max(...points.map(({ value }) => Math.abs(value - middle)));
  });
  return Math.max(least, 2.1 * Math.max(0, ...reach));
}

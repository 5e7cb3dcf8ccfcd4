import { finite, inRange } from '../numeric/range.ts';

/** One value of a series: `time` in any unit (days, years), `value` in any unit. */
export interface Point {
  time: number;
  value: number;
  /** Set when only "below" (under detection) or "above" `value` is known. */
  bound?: 'below' | 'above';
}

/** Points in order of time; throws a RangeError on too few or on one that is not a number. */
export function inTime(points: readonly Point[], fewest: number): Point[] {
  inRange(points.length, fewest, Number.MAX_SAFE_INTEGER, 'number of points');
  for (const { time, value } of points) {
    finite(time, 'time');
    finite(value, 'value');
  }
  return [...points].sort((a, b) => a.time - b.time);
}

/** 1 when `b` is surely above `a`, -1 when surely below, 0 when equal or when their bounds leave it open. */
export function order(a: Point, b: Point): -1 | 0 | 1 {
  if (surelyAbove(b, a)) return 1;
  return surelyAbove(a, b) ? -1 : 0;
}

/** A reading "below 5" is surely below 5 itself; two bounds of one side are never ordered. */
function surelyAbove(high: Point, low: Point): boolean {
  if (high.bound === 'below' || low.bound === 'above') return false;
  return high.bound || low.bound ? high.value >= low.value : high.value > low.value;
}

import type { Look } from './following.ts';

/** An alert counts when the statistic rises above its limit after this many days below. */
const quietDays = 30;

/** Alerts from day `from` on, counted as rises after 30 days below; `counts`: only those whose first look is so. */
export function countAlerts(
  looks: readonly Look[],
  from: number,
  counts: (look: Look) => boolean = () => true,
): number {
  let last = Number.NEGATIVE_INFINITY;
  let alerts = 0;
  for (const look of looks) {
    const { day, above } = look;
    if (!above) continue;
    if (day >= from && day - last > quietDays && counts(look)) alerts += 1;
    last = day;
  }
  return alerts;
}

/** An alert of the last week before the onset counts as open at it. */
const openDays = 7;

/** Days from the onset to the first look above; null when an alert was open at it; Infinity when there is none. */
export function delayOf(looks: readonly Look[], onset: number): number | null {
  if (looks.some(({ day, above }) => above && day < onset && day >= onset - openDays)) return null;
  const first = looks.find(({ day, above }) => above && day >= onset);
  return first === undefined ? Number.POSITIVE_INFINITY : first.day - onset;
}

/** The value below which this share of them lies; NaN for none. */
export function quantile(values: readonly number[], share: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? Number.NaN;
}

/** Delays in short: how many runs counted, share found within `within` days, median and 90th percentile. */
export interface Delays {
  runs: number;
  found: number;
  median: number;
  p90: number;
}

export function shorten(delays: readonly (number | null)[], within: number): Delays {
  const counted = delays.filter((delay) => delay !== null);
  return {
    runs: counted.length,
    found: counted.filter((delay) => delay <= within).length / counted.length,
    median: quantile(counted, 0.5),
    p90: quantile(counted, 0.9),
  };
}

/** Part of the days from `from` on at which an alert stood open: from each look to the next. */
export function openShare(looks: readonly Look[], from: number): number {
  const counted = looks.filter(({ day }) => day >= from);
  const [first, last] = [counted[0], counted.at(-1)];
  if (first === undefined || last === undefined || last.day === first.day) return 0;
  const open = counted
    .slice(1)
    .reduce((sum, { day }, i) => sum + (counted[i]?.open ? day - (counted[i]?.day ?? day) : 0), 0);
  return open / (last.day - first.day);
}

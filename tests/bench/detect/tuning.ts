import { countAlerts } from './counting.ts';

type Series = readonly { day: number; value: number }[];

/** Alerts of a statistic with this limit, a system-year. */
export function alertRate(series: readonly Series[], limit: number, from: number, years: number): number {
  const alerts = series.map((one) =>
    countAlerts(
      one.map(({ day, value }) => ({ day, above: value >= limit })),
      from,
    ),
  );
  return alerts.reduce((sum, count) => sum + count, 0) / years;
}

const tails = Array.from({ length: 80 }, (_, i) => 0.5 * 0.9 ** i);

/**
 * The smallest limit at which a statistic gives no more than `rate` false alerts a system-year, sought from the top
 * down over its own quantiles: far down, where it always stands above, alerts are rare again.
 */
export function tuneLimit(series: readonly Series[], rate: number, from: number, years: number): number {
  const values = series.flatMap((one) => one.map(({ value }) => value)).sort((a, b) => a - b);
  let best = Number.POSITIVE_INFINITY;
  for (const tail of tails.toReversed()) {
    const limit = values[Math.floor((1 - tail) * values.length)] ?? Number.POSITIVE_INFINITY;
    if (alertRate(series, limit, from, years) > rate) return best;
    best = limit;
  }
  return best;
}

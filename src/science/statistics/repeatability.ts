import { median } from 'd3-array';

/** How far measurements of one thing scatter. */
export interface WithinSpread {
  /** The within-subject standard deviation. */
  sd: number;
  /** Degrees of freedom: of n measurements of one thing n - 1. */
  freedom: number;
}

/**
 * The within-subject standard deviation of things that were measured several times each (one-way analysis of variance; of
 * pairs it is the root of the mean squared difference halved). Null where nothing was measured twice.
 *
 * Bland and Altman 1986, Lancet 327: 307-310; 1996, BMJ 312: 1654.
 */
export function withinSpread(things: readonly (readonly number[])[]): WithinSpread | null {
  let [squares, freedom] = [0, 0];
  for (const values of things) {
    if (values.length < 2) continue;
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    for (const value of values) squares += (value - mean) ** 2;
    freedom += values.length - 1;
  }
  return freedom === 0 ? null : { sd: Math.sqrt(squares / freedom), freedom };
}

/** Two measurements of one unchanged thing differ by more than this once in twenty times (Bland and Altman 1996). */
export const repeatability = (withinSd: number): number => 1.96 * Math.SQRT2 * withinSd;

/** The median of absolute deviations from the median is so much of the standard deviation of a normal distribution. */
const MAD_SHARE = 0.6744897501960817;

/** The spread of some numbers as a standard deviation that a few wild ones do not move (Hampel 1974); NaN of none. */
export function robustSd(values: readonly number[]): number {
  const middle = median(values) ?? Number.NaN;
  return (median(values, (value) => Math.abs(value - middle)) ?? Number.NaN) / MAD_SHARE;
}

/** What a robust spread knows against a plain one of as many normal values (Hampel 1974: 37 %). */
export const ROBUST_SHARE = 0.37;

/** The variance of the median of many normal values against that of their mean. */
export const MEDIAN_COST = Math.PI / 2;

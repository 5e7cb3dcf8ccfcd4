import { finite, inRange, positive } from '../numeric/range.ts';

export interface EwmaPoint {
  value: number;
  ewma: number;
  lower: number;
  upper: number;
  outside: boolean;
}

export interface EwmaOptions {
  /** Value to be kept, and SD of single values around it. */
  target: number;
  sd: number;
  /** Weight of the newest value, above 0 to 1 (0.3 when left out). */
  weight?: number;
  /** Width of the limits in SD of the mean (3 when left out). */
  width?: number;
}

/**
 * Exponentially weighted moving average with the exact limits of each point; they widen to the steady state.
 *
 * Roberts 1959; NIST/SEMATECH e-Handbook 6.3.2.4.
 */
export function ewmaChart(values: readonly number[], options: EwmaOptions): EwmaPoint[] {
  const { target, sd, weight = 0.3, width = 3 } = options;
  finite(target, 'target');
  positive(sd, 'standard deviation');
  inRange(weight, Number.MIN_VALUE, 1, 'weight');
  positive(width, 'width of the limits');
  let ewma = target;
  return values.map((value, i) => {
    ewma += weight * (finite(value, 'value') - ewma);
    const half = width * sd * Math.sqrt((weight / (2 - weight)) * (1 - (1 - weight) ** (2 * i + 2)));
    return {
      value,
      ewma,
      lower: target - half,
      upper: target + half,
      outside: Math.abs(ewma - target) > half,
    };
  });
}

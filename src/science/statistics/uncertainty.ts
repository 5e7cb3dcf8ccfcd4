import { finite, inRange, notNegative, positive } from '../numeric/range.ts';

/** A value and its standard uncertainty, in one unit. */
export interface Measured {
  value: number;
  u: number;
}

/** Standard uncertainty of independent contributions, all in the result's unit: the root of the sum of squares (GUM 5.1.2). */
export function combine(...contributions: number[]): number {
  return Math.hypot(...contributions.map((u) => notNegative(u, 'standard uncertainty')));
}

/**
 * Value and standard uncertainty of a result f(x), by the law of propagation (GUM 5.1.2 and 5.2.2); sensitivities by
 * central differences over +- u/100 of each input, so f must be smooth there.
 *
 * @param inputs values and standard uncertainties
 * @param correlation matrix of correlation coefficients; independent when left out
 */
export function propagate(
  f: (...values: number[]) => number,
  inputs: readonly Measured[],
  correlation?: readonly (readonly number[])[],
): Measured {
  const values = inputs.map(({ value }) => finite(value, 'input'));
  const effects = inputs.map(({ u }, i) => {
    if (notNegative(u, 'standard uncertainty') === 0) return 0;
    const moved = (by: number) => f(...values.map((v, j) => (j === i ? v + by : v)));
    return (moved(u / 100) - moved(-u / 100)) * 50;
  });
  let variance = 0;
  for (const [i, a] of effects.entries()) {
    for (const [j, b] of effects.entries()) {
      const r = i === j ? 1 : inRange(correlation?.[i]?.[j] ?? 0, -1, 1, 'correlation');
      variance += a * b * r;
    }
  }
  return { value: finite(f(...values), 'result'), u: Math.sqrt(Math.max(0, variance)) };
}

/** Standard uncertainty of a value known only to lie within +- `halfWidth` (GUM 4.3.7). */
export function rectangular(halfWidth: number): number {
  return notNegative(halfWidth, 'half width') / Math.sqrt(3);
}

/** How far two readings of one thing stand apart. */
export interface Agreement {
  difference: number;
  /** Standard uncertainty of the difference. */
  u: number;
  /** Normalised error: difference over its expanded uncertainty (k = 2); within +-1 they agree. */
  normalisedError: number;
  agree: boolean;
}

/**
 * Do two independent readings agree within their uncertainties? Normalised error En as in ISO 13528 and ISO/IEC
 * 17043 (definition from memory); two readings that differ by their tests' error only agree 19 times in 20.
 */
export function agreement(a: Measured, b: Measured, k = 2): Agreement {
  const u = positive(combine(a.u, b.u), 'combined standard uncertainty');
  const difference = finite(a.value, 'first reading') - finite(b.value, 'second reading');
  const normalisedError = difference / (positive(k, 'coverage factor') * u);
  return { difference, u, normalisedError, agree: Math.abs(normalisedError) <= 1 };
}

/** A mean of several readings of one thing. */
export interface WeightedMean extends Measured {
  /** Sum of squared deviations over their variances; about n - 1 when the uncertainties are right. */
  chiSquare: number;
  dof: number;
  /** Standard uncertainty enlarged by the Birge ratio where the readings scatter more than they should. */
  uScatter: number;
}

/**
 * Mean of independent readings weighted by 1/u^2 (Aitken 1935; Birge 1932 for the ratio, from memory). Needs at least
 * one reading, each with u above 0.
 */
export function weightedMean(readings: readonly Measured[]): WeightedMean {
  inRange(readings.length, 1, Infinity, 'number of readings');
  const weights = readings.map(({ u }) => 1 / positive(u, 'standard uncertainty') ** 2);
  const total = weights.reduce((a, b) => a + b, 0);
  const sumOver = (f: (reading: Measured) => number) =>
    readings.reduce((sum, reading, i) => sum + (weights[i] ?? 0) * f(reading), 0);
  const value = sumOver((r) => finite(r.value, 'reading')) / total;
  const chiSquare = sumOver((r) => (r.value - value) ** 2);
  const dof = readings.length - 1;
  const u = 1 / Math.sqrt(total);
  return { value, u, chiSquare, dof, uScatter: dof > 0 ? u * Math.max(1, Math.sqrt(chiSquare / dof)) : u };
}

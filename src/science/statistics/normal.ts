import { inRange, positive } from '../numeric/range.ts';

const SQRT_TWO_PI = Math.sqrt(2 * Math.PI);
/** From here on the continued fraction of the tail converges faster than the series. */
const TAIL_FROM = 2.5;
const FRACTION_TERMS = 100;
/** Below it the tail on the other side is less than half of what a number tells of 1 (2^-54). */
const CERTAIN = -8.5;

/** Density of the standard normal distribution at `z` (any finite number). */
export function normalPdf(z: number): number {
  return Math.exp((-z * z) / 2) / SQRT_TWO_PI;
}

/**
 * Probability that a standard normal variable is above `z`; relative error below 1e-12 up to z = 37, then 0.
 *
 * Series 26.2.11 and continued fraction 26.2.14 of Abramowitz & Stegun (1964).
 */
export function normalTail(z: number): number {
  if (z < CERTAIN) return 1;
  if (z < 0) return 1 - normalTail(-z);
  return z < TAIL_FROM ? 0.5 - normalPdf(z) * oddSeries(z) : normalPdf(z) / tailFraction(z);
}

/** Probability that a standard normal variable is below `z`; see `normalTail` for the error. */
export function normalCdf(z: number): number {
  return normalTail(-z);
}

/**
 * The `z` below which a standard normal variable lies with probability `p`, 0 < p < 1; error below 1e-9.
 *
 * Starts from Abramowitz & Stegun (1964) 26.2.23 and refines it by Newton steps on the tail.
 */
export function normalQuantile(p: number): number {
  inRange(p, Number.MIN_VALUE, 1 - Number.EPSILON / 2, 'probability');
  if (p > 0.5) return -normalQuantile(1 - p);
  const t = Math.sqrt(-2 * Math.log(p));
  let z =
    t - (2.515517 + t * (0.802853 + t * 0.010328)) / (1 + t * (1.432788 + t * (0.189269 + t * 0.001308)));
  for (let step = 0; step < 4; step++) z += Math.log(normalTail(z) / p) / normalHazard(z);
  return -z;
}

/** Density over upper tail of the standard normal distribution at `z`; stays exact far out in the tail. */
export function normalHazard(z: number): number {
  return z < TAIL_FROM ? normalPdf(z) / normalTail(z) : tailFraction(z);
}

export interface Moments {
  mean: number;
  variance: number;
}

/**
 * Mean and variance of a normal variable of which only is known that it lies below (or above) a bound.
 * All arguments share one unit; `sd` must be above 0.
 *
 * Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), section 10.1 (from memory).
 */
export function truncatedNormal(mean: number, sd: number, bound: number, side: 'below' | 'above'): Moments {
  positive(sd, 'standard deviation');
  const sign = side === 'above' ? 1 : -1;
  const edge = (sign * (bound - mean)) / sd;
  const hazard = normalHazard(edge);
  const shrink = Math.min(1, Math.max(0, 1 + edge * hazard - hazard * hazard));
  return { mean: mean + sign * sd * hazard, variance: sd * sd * shrink };
}

/** z + z^3/3 + z^5/15 + ...: the area from 0 to z over the density. */
function oddSeries(z: number): number {
  let term = z;
  let sum = z;
  for (let k = 3; term > sum * 1e-17; k += 2) {
    term *= (z * z) / k;
    sum += term;
  }
  return sum;
}

/** z + 1/(z + 2/(z + 3/...)): the density over the tail. */
function tailFraction(z: number): number {
  let fraction = z;
  for (let k = FRACTION_TERMS; k >= 1; k--) fraction = z + k / fraction;
  return fraction;
}

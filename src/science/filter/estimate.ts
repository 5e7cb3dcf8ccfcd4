import { inRange } from '../numeric/range.ts';
import { truncatedNormal } from '../statistics/normal.ts';

/** What is known of a few quantities at one time: their means and covariances (a small, full matrix). */
export interface Estimate {
  mean: number[];
  cov: number[][];
}

/** One observation's effect on an estimate. */
export interface Correction {
  estimate: Estimate;
  /** Observed minus expected over its standard deviation, before any cut; for a bound, of its expected value. */
  z: number;
  /** Standard deviation of observed minus expected. */
  sd: number;
  /** True when the observation was further off than `cut` and was pulled in. */
  cut: boolean;
}

/** A scalar observation: its expected value and its slope by each state, and the variance of its noise. */
export interface Sight {
  expected: number;
  slopes: readonly number[];
  variance: number;
}

/**
 * Carries an estimate forward: x' = F x + u with noise covariance Q (Kalman 1960).
 * `F` and `Q` are square, of the estimate's size.
 */
export function predict(
  { mean, cov }: Estimate,
  F: readonly number[][],
  Q: readonly number[][],
  u?: readonly number[],
): Estimate {
  const size = mean.length;
  const FP = F.map((row) => product(row, cov, size));
  const cross = FP.map((row, i) => {
    const noise = Q[i];
    return F.map((to, j) => dot(row, to) + (noise?.[j] ?? 0));
  });
  return { mean: F.map((row, i) => dot(row, mean) + (u?.[i] ?? 0)), cov: cross };
}

/**
 * Takes in one observation (Kalman 1960), pulled in to `cut` standard deviations of what was expected, so that a
 * slip moves the estimate by a bounded amount (Huber's idea; Masreliez & Martin 1977). The covariance shrinks as
 * for a full observation.
 */
export function correct(estimate: Estimate, sight: Sight, observed: number, cut = Infinity): Correction {
  const { reach, sd } = reachOf(estimate, sight);
  const z = (observed - sight.expected) / sd;
  const pulled = Math.max(-cut, Math.min(cut, z));
  return { estimate: shift(estimate, reach, pulled / sd, 1 / (sd * sd)), z, sd, cut: pulled !== z };
}

/**
 * Takes in "the observation lies below (above) a bound": the mean and variance of the state given that, exact to
 * the second moment. A bound that says nothing new leaves the estimate as it was.
 */
export function correctBound(
  estimate: Estimate,
  sight: Sight,
  bound: number,
  side: 'below' | 'above',
  cut = Infinity,
): Correction {
  const { reach, sd } = reachOf(estimate, sight);
  const given = truncatedNormal(sight.expected, sd, bound, side);
  const z = (given.mean - sight.expected) / sd;
  const pulled = Math.max(-cut, Math.min(cut, z));
  const learnt = 1 - given.variance / (sd * sd);
  return { estimate: shift(estimate, reach, pulled / sd, learnt / (sd * sd)), z, sd, cut: pulled !== z };
}

/** Adds `variance` to state `i`: what was known of it counts for less. */
export function loosen(estimate: Estimate, i: number, variance: number): Estimate {
  inRange(variance, 0, Number.MAX_VALUE, 'added variance');
  const cov = estimate.cov.map((row, r) => row.map((v, c) => (r === i && c === i ? v + variance : v)));
  return { mean: [...estimate.mean], cov };
}

/** Forgets state `i`: sets it to `mean` +- `sd`, independent of the others. */
export function reset(estimate: Estimate, i: number, mean: number, sd: number): Estimate {
  return {
    mean: estimate.mean.map((m, r) => (r === i ? mean : m)),
    cov: estimate.cov.map((row, r) =>
      row.map((v, c) => (r === i && c === i ? sd * sd : r === i || c === i ? 0 : v)),
    ),
  };
}

/** The element in row `i`, column `j`; 0 outside. */
export function at(matrix: readonly (readonly number[])[], i: number, j: number): number {
  return matrix[i]?.[j] ?? 0;
}

function reachOf({ cov }: Estimate, { slopes, variance }: Sight): { reach: number[]; sd: number } {
  const reach: number[] = [];
  for (const row of cov) reach.push(dot(row, slopes));
  return { reach, sd: Math.sqrt(dot(reach, slopes) + variance) };
}

function shift({ mean, cov }: Estimate, reach: number[], move: number, shrink: number): Estimate {
  const size = mean.length;
  const moved: Estimate = { mean: [], cov: [] };
  for (let i = 0; i < size; i++) {
    const own = reach[i] ?? 0;
    const line: number[] = [];
    for (let j = 0; j < size; j++) line.push(at(cov, i, j) - own * (reach[j] ?? 0) * shrink);
    moved.mean.push((mean[i] ?? 0) + own * move);
    moved.cov.push(line);
  }
  return moved;
}

/** A row times a matrix of `size` columns. */
function product(row: readonly number[], matrix: readonly (readonly number[])[], size: number): number[] {
  const sums = new Array<number>(size).fill(0);
  for (let k = 0; k < row.length; k++) {
    const factor = row[k] ?? 0;
    const line = matrix[k];
    if (factor === 0 || line === undefined) continue;
    for (let j = 0; j < size; j++) sums[j] = (sums[j] ?? 0) + factor * (line[j] ?? 0);
  }
  return sums;
}

// Loops, not folds: the filters take most of the watch's time, and this most of theirs.
function dot(a: readonly number[], b: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += (a[i] ?? 0) * (b[i] ?? 0);
  return sum;
}

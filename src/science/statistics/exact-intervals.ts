import { inRange, positive, wholeNumber } from '../numeric/range.ts';

/** A range that holds the true value at least as often as was asked for. */
export interface Interval {
  low: number;
  high: number;
}

const LARGEST = 10_000_000;
const STEPS = 80;

/**
 * Probability of `count` or more among `n` when each has the chance `p`: the binomial distribution, summed. Whole counts
 * up to ten million.
 */
export function binomialAtLeast(count: number, n: number, p: number): number {
  wholeNumber(n, 0, LARGEST, 'number of all');
  wholeNumber(count, 0, n + 1, 'count');
  inRange(p, 0, 1, 'probability');
  if (count === 0) return 1;
  if (count > n || p === 0) return 0;
  if (p === 1) return 1;
  const chance = (k: number) =>
    logFactorial(n) - logFactorial(k) - logFactorial(n - k) + k * Math.log(p) + (n - k) * Math.log1p(-p);
  const ratio = (k: number) => ((n - k) / (k + 1)) * (p / (1 - p));
  return upperSum(count, n, n * p, chance, ratio);
}

/** Probability of `count` or more where `mean` are expected: the Poisson distribution, summed. */
export function poissonAtLeast(count: number, mean: number): number {
  wholeNumber(count, 0, LARGEST, 'count');
  inRange(mean, 0, LARGEST, 'mean');
  if (count === 0) return 1;
  if (mean === 0) return 0;
  const chance = (k: number) => k * Math.log(mean) - mean - logFactorial(k);
  return upperSum(count, Number.POSITIVE_INFINITY, mean, chance, (k) => mean / (k + 1));
}

/**
 * The interval of a share of which `count` of `n` were seen, which holds the true share at least at `level`: Clopper and
 * Pearson 1934, Biometrika 26: 404-413.
 *
 * @param n 1 or more
 */
export function binomialInterval(count: number, n: number, level = 0.95): Interval {
  wholeNumber(n, 1, LARGEST, 'number of all');
  wholeNumber(count, 0, n, 'count');
  const tail = (1 - inRange(level, 0.5, 0.9999, 'level')) / 2;
  return {
    low: count === 0 ? 0 : rising((p) => binomialAtLeast(count, n, p), tail, 1),
    high: count === n ? 1 : rising((p) => binomialAtLeast(count + 1, n, p), 1 - tail, 1),
  };
}

/**
 * The interval of a rate: `count` events in `exposure` (days, lot-days), as events in one unit of it; holds the true rate at
 * least at `level`: Garwood 1936, Biometrika 28: 437-442.
 */
export function poissonInterval(count: number, exposure = 1, level = 0.95): Interval {
  wholeNumber(count, 0, LARGEST, 'count');
  positive(exposure, 'exposure');
  const tail = (1 - inRange(level, 0.5, 0.9999, 'level')) / 2;
  const most = count + 10 * Math.sqrt(count + 1) + 20;
  return {
    low: count === 0 ? 0 : rising((mean) => poissonAtLeast(count, mean), tail, most) / exposure,
    high: rising((mean) => poissonAtLeast(count + 1, mean), 1 - tail, most) / exposure,
  };
}

/** Where a rising probability reaches `target`, between 0 and `high`. */
function rising(probability: (x: number) => number, target: number, high: number): number {
  let [below, above] = [0, high];
  for (let step = 0; step < STEPS; step++) {
    const middle = (below + above) / 2;
    if (probability(middle) < target) below = middle;
    else above = middle;
  }
  return (below + above) / 2;
}

/** The sum of chances from `from` on; the smaller side is summed, so that small probabilities keep their digits. */
function upperSum(
  from: number,
  last: number,
  mean: number,
  logChance: (k: number) => number,
  ratio: (k: number) => number,
): number {
  if (from > mean) return Math.min(1, sumUp(from, last, logChance, ratio));
  let below = 0;
  let term = Math.exp(logChance(from - 1));
  for (let k = from - 1; k >= 0 && term > 0; k--) {
    below += term;
    if (k === 0 || term < below * 1e-18) break;
    term /= ratio(k - 1);
  }
  return Math.max(0, 1 - below);
}

function sumUp(
  from: number,
  last: number,
  logChance: (k: number) => number,
  ratio: (k: number) => number,
): number {
  let sum = 0;
  let term = Math.exp(logChance(from));
  for (let k = from; k <= last && term > sum * 1e-18; k++) {
    sum += term;
    term *= ratio(k);
  }
  return sum;
}

/** Of these the logarithm is added up, of larger ones taken from Stirling's series (error below 1e-16). */
const TABLE = 256;
const table = new Float64Array(TABLE);
for (let i = 2; i < TABLE; i++) table[i] = (table[i - 1] ?? 0) + Math.log(i);

function logFactorial(n: number): number {
  if (n < TABLE) return table[n] ?? 0;
  const x = n + 1;
  return (
    (x - 0.5) * Math.log(x) -
    x +
    0.5 * Math.log(2 * Math.PI) +
    1 / (12 * x) -
    1 / (360 * x ** 3) +
    1 / (1260 * x ** 5)
  );
}

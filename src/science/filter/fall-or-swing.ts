import { inRange, notNegative, positive } from '../numeric/range.ts';

/** A test of a level; `value` and `sd` (its standard uncertainty) in one unit. */
interface Tested {
  day: number;
  value: number;
  sd: number;
}

/** What the water usually does by itself, in the unit of the tests: its short-term swing, and how far it wanders, 0 (steady) to 1. */
export interface UsualWater {
  usualSwing: number;
  wander: number;
}

/** Days of tests that are compared. */
export const comparedDays = 30;

/** When a trouble may have begun, days before the last test; that it was there before all of them counts too. */
const onsets = [2, 3, 4, 5, 7, 9, 11, 14, 18, 22];
/** Falls that are weighed, dKH a day; and by how much a swing may have grown. */
const falls = [0.04, 0.07, 0.1, 0.15, 0.2];
const growths = [2, 3, 4];
/** The level may be anything; wandering and swing of usual water, dKH, and the days by which they are forgotten. */
const [anyLevel, wandering, wanderDays, swingDays] = [2, 0.12, 20, 2];
/** The usual swing is learnt with test error and wandering in it; and it is no smaller than this, dKH. */
const [ownPart, smallestSwing] = [0.8, 0.06];
/** One test in a hundred is off by about 1 dKH more than its error. */
const [slips, slipSd] = [0.01, 1];

/**
 * Natural log of the odds that the last tests are of a level that bent down some days ago, against a swing that grew two to fourfold
 * since then, both equally likely before. Each is a Gaussian process of the level: any mean, wandering that is forgotten in 20 days,
 * swing in 2, test error on top; a fall adds a straight line from its onset, a swing multiplies its part from there. Averaged over
 * onsets, speeds and growths.
 *
 * Likelihood of a Gaussian process: Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq. 2.30. Sizes are own
 * choice, tried by the simulation of the study; a fall is told alone from odds of about 55 to 1 (4), in DEVELOPERS.md.
 *
 * @param tests oldest first, 3 to 400 of them
 * @param perDkh units of the tests to 1 dKH
 */
export function fallOverSwing(tests: readonly Tested[], usual: UsualWater, perDkh: number): number {
  positive(perDkh, 'units to one dKH');
  notNegative(usual.usualSwing, 'usual swing');
  inRange(tests.length, 3, 400, 'tests');
  const last = tests.at(-1)?.day ?? 0;
  const days = tests.map(({ day }) => day - last);
  const values = tests.map(({ value }) => value / perDkh - (tests[0]?.value ?? 0) / perDkh);
  const swing = Math.max(smallestSwing, (ownPart * usual.usualSwing) / perDkh);
  const wander = wandering * Math.max(0.3, usual.wander);
  const between = (of: (apart: number) => number) =>
    days.map((a, i) => days.slice(0, i + 1).map((b) => of(Math.abs(a - b))));
  const steady = between((apart) => anyLevel ** 2 + wander ** 2 * Math.exp(-apart / wanderDays));
  const short = between((apart) => swing ** 2 * Math.exp(-apart / swingDays));
  const factor = (grown: (day: number) => number) => {
    const by = days.map(grown);
    return lowerTriangle(steady, (i, j) => {
      const error = i === j ? ((tests[i]?.sd ?? 0) / perDkh) ** 2 : 0;
      return (by[i] ?? 1) * (by[j] ?? 1) * (short[i]?.[j] ?? 0) + error;
    });
  };
  const calm = factor(() => 1);
  const asFall = onsets.flatMap((onset) =>
    falls.map((fall) => {
      const line = values.map((value, i) => value + fall * Math.max(0, (days[i] ?? 0) + onset));
      return logLikelihood(line, calm);
    }),
  );
  const asSwing = [...onsets, comparedDays + 10].flatMap((onset) =>
    growths.map((growth) =>
      logLikelihood(
        values,
        factor((day) => (day >= -onset ? growth : 1)),
      ),
    ),
  );
  return logMean(asFall) - logMean(asSwing);
}

/**
 * The lower triangle of the Cholesky factor of a covariance, of which `steady` has a part and `more` the rest. A library's matrices
 * take five times as long to make as the factor itself, and it is asked for dozens of times.
 */
function lowerTriangle(
  steady: readonly (readonly number[])[],
  more: (i: number, j: number) => number,
): Float64Array[] {
  const lower: Float64Array[] = [];
  for (const [i, known] of steady.entries()) {
    const row = new Float64Array(i + 1);
    for (let j = 0; j <= i; j++) {
      const other = lower[j] ?? row;
      let left = (known[j] ?? 0) + more(i, j);
      for (let k = 0; k < j; k++) left -= (row[k] ?? 0) * (other[k] ?? 0);
      row[j] = i === j ? Math.sqrt(left) : left / (other[j] ?? 1);
    }
    lower.push(row);
  }
  return lower;
}

/**
 * Log likelihood, up to a constant, of values whose covariance has the lower triangle `lower`: of each value given those before it,
 * a few of which slip.
 */
export function logLikelihood(
  values: readonly number[],
  lower: readonly ArrayLike<number>[],
  slip: number = slips,
): number {
  const z = new Float64Array(values.length);
  let sum = 0;
  for (const [i, value] of values.entries()) {
    const row = lower[i] ?? [];
    const sd = row[i] ?? 1;
    let off = value;
    for (let j = 0; j < i; j++) off -= (z[j] ?? 0) * (row[j] ?? 0);
    z[i] = off / sd;
    const wide = sd ** 2 + slipSd ** 2;
    const usual = Math.log(1 - slip) - 0.5 * (off / sd) ** 2 - Math.log(sd);
    const slipped = Math.log(slip) - (0.5 * off ** 2) / wide - 0.5 * Math.log(wide);
    sum += slip === 0 ? usual : logSum([usual, slipped]);
  }
  return sum;
}

function logSum(logs: readonly number[]): number {
  const most = Math.max(...logs);
  return most + Math.log(logs.reduce((sum, one) => sum + Math.exp(one - most), 0));
}

const logMean = (logs: readonly number[]): number => logSum(logs) - Math.log(logs.length);

import { normalTail } from '../statistics/normal.ts';
import { inTime, order, type Point } from './points.ts';

/** Up to this many points p is exact, over all orders of the values. */
const EXACT_UP_TO = 7;

export interface MannKendall {
  n: number;
  /** Pairs that rise less pairs that fall. */
  S: number;
  /** Variance of S without trend, corrected for ties in value, in time, and for pairs left open by bounds. */
  varS: number;
  /** S less its continuity correction over its SD; 0 when S is 0. */
  z: number;
  /** Two-sided probability of as strong a trend by chance: exact up to 7 points, normal beyond. */
  p: number;
  /** S over the number of pairs (tau-a), and over the number that can be ordered (tau-b). */
  tauA: number;
  tauB: number;
}

/**
 * Mann-Kendall test for a trend in at least 3 points at any times, with ties and censored values. A pair whose order
 * the bounds leave open counts as a tie, as does a pair of one time.
 *
 * Mann 1945, Kendall 1975; variance by the general formula for scores (Daniels 1944; Kendall 1970, chapter 5, from
 * memory), which for ties is the usual one (Gilbert 1987, 16.4). Points are taken as independent: readings closer
 * than the water's memory make p too small.
 */
export function mannKendall(points: readonly Point[]): MannKendall {
  const score = kendallScore(points);
  const { n, S, z } = score;
  return {
    ...score,
    p: n <= EXACT_UP_TO ? exactP(inTime(points, 3), Math.abs(S)) : Math.min(1, 2 * normalTail(Math.abs(z))),
  };
}

/** The same without its probability, which takes all orders of few points to work out. */
export function kendallScore(points: readonly Point[]): Omit<MannKendall, 'p'> {
  const sorted = inTime(points, 3);
  const n = sorted.length;
  const { S, values, times } = comparePairs(sorted);
  const varS = varianceOfS(n, values, times);
  const z = varS > 0 ? (S - Math.sign(S)) / Math.sqrt(varS) : 0;
  const ordered = Math.sqrt(values.ordered * times.ordered);
  return {
    n,
    S,
    varS,
    z,
    tauA: S / ((n * (n - 1)) / 2),
    tauB: ordered > 0 ? S / ordered : 0,
  };
}

/** Over all pairs: how many are ordered, and the sum of squares of each point's score against all others. */
interface PairSums {
  ordered: number;
  squares: number;
}

/** Goes over all pairs of points in order of time. */
function comparePairs(points: readonly Point[]): { S: number; values: PairSums; times: PairSums } {
  const [byValue, byTime] = [new Float64Array(points.length), new Float64Array(points.length)];
  let [S, valueOrdered, timeOrdered] = [0, 0, 0];
  for (const [j, b] of points.entries()) {
    for (let i = 0; i < j; i++) {
      const a = points[i] as Point;
      const rise = order(a, b);
      const later = a.time < b.time ? 1 : 0;
      S += rise * later;
      valueOrdered += rise * rise;
      timeOrdered += later;
      byValue[i] = (byValue[i] as number) + rise;
      byValue[j] = (byValue[j] as number) - rise;
      byTime[i] = (byTime[i] as number) + later;
      byTime[j] = (byTime[j] as number) - later;
    }
  }
  return {
    S,
    values: { ordered: valueOrdered, squares: sumOfSquares(byValue) },
    times: { ordered: timeOrdered, squares: sumOfSquares(byTime) },
  };
}

function sumOfSquares(values: Float64Array): number {
  return values.reduce((sum, v) => sum + v * v, 0);
}

/** Each sum over all ordered pairs (i, j), i and j both ways, is twice that over i < j. */
function varianceOfS(n: number, a: PairSums, b: PairSums): number {
  const triples = ((a.squares - 2 * a.ordered) * (b.squares - 2 * b.ordered)) / (n * (n - 1) * (n - 2));
  return triples + (2 * a.ordered * b.ordered) / (n * (n - 1));
}

/** Share of all orders of the values over the times with |S| at least as large. */
function exactP(points: readonly Point[], least: number): number {
  let [all, extreme] = [0, 0];
  const visit = (chosen: Point[], rest: readonly Point[]) => {
    if (rest.length === 0) {
      all += 1;
      if (Math.abs(comparePairs(chosen).S) >= least) extreme += 1;
    }
    for (const [i, point] of rest.entries()) {
      const time = points[chosen.length]?.time ?? 0;
      visit([...chosen, { ...point, time }], rest.toSpliced(i, 1));
    }
  };
  visit([], points);
  return extreme / all;
}

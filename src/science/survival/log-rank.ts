import { Matrix, solve } from 'ml-matrix';
import { inRange } from '../numeric/range.ts';
import { chiSquareTail } from '../statistics/chi-square.ts';
import { type Followed, lossTimes } from './kaplan-meier.ts';

export interface LogRank {
  chiSquare: number;
  dof: number;
  /** Probability of as large a difference by chance. */
  p: number;
  /** Losses seen in each group, and to be expected if all groups lost alike. */
  groups: { observed: number; expected: number }[];
}

/**
 * Log-rank test: do two or more groups lose pieces alike? Groups never at risk together with others count as lost
 * alike.
 *
 * Mantel 1966, Peto & Peto 1972; the variance allows for ties (hypergeometric). Pieces are taken as independent.
 */
export function logRank(groups: readonly (readonly Followed[])[]): LogRank {
  inRange(groups.length, 2, 100, 'number of groups');
  for (const group of groups)
    inRange(group.length, 1, Number.MAX_SAFE_INTEGER, 'number of pieces in a group');
  const expected = groups.map(() => 0);
  const observed = groups.map((group) => group.filter((piece) => piece.lost).length);
  const variance = Matrix.zeros(groups.length, groups.length);
  for (const { time, atRisk, lost: all } of lossTimes(groups.flat())) {
    const shares = groups.map((group) => group.filter((piece) => piece.time >= time).length / atRisk);
    const scale = atRisk > 1 ? (all * (atRisk - all)) / (atRisk - 1) : 0;
    for (const [i, a] of shares.entries()) {
      expected[i] = (expected[i] ?? 0) + all * a;
      for (const [j, b] of shares.entries()) {
        variance.set(i, j, variance.get(i, j) + scale * (i === j ? a * (1 - a) : -a * b));
      }
    }
  }
  const chiSquare = quadratic(
    variance,
    observed.map((o, i) => o - (expected[i] ?? 0)),
  );
  const dof = groups.length - 1;
  return {
    chiSquare,
    dof,
    p: chiSquareTail(chiSquare, dof),
    groups: observed.map((o, i) => ({ observed: o, expected: expected[i] ?? 0 })),
  };
}

/** d' V^-1 d over all groups but the last, whose difference follows from the others; least squares where V is singular. */
function quadratic(variance: Matrix, differences: number[]): number {
  const last = differences.length - 2;
  const d = Matrix.columnVector(differences.slice(0, -1));
  const solved = solve(variance.subMatrix(0, last, 0, last), d, true);
  return Math.max(0, d.transpose().mmul(solved).get(0, 0));
}

import { wholeNumber } from '../numeric/range.ts';

/** Affected and all in a group, affected and all elsewhere. */
export interface Split {
  affectedIn: number;
  totalIn: number;
  affectedOut: number;
  totalOut: number;
}

export interface ExactP {
  /** Probability of as many or more affected in the group by chance. */
  greater: number;
  /** Probability of a split as unlikely or unlikelier, either way (Fisher's exact test). */
  twoSided: number;
}

/** Splits as likely as the observed one up to this factor count as equally likely, as in R `fisher.test`. */
const SAME = 1 + 1e-7;
const LARGEST = 1_000_000;

/**
 * Exact test of one group named beforehand: by chance the affected would fall into it as balls drawn without putting
 * back (hypergeometric; Fisher 1934). Whole counts, up to a million in all; relative error below 1e-9.
 */
export function exactTest(split: Split): ExactP {
  const { affectedIn, totalIn, affectedOut, totalOut } = checkedSplit(split);
  const affected = affectedIn + affectedOut;
  const logs = logFactorials(totalIn + totalOut);
  const choose = (n: number, k: number) => (logs[n] ?? 0) - (logs[k] ?? 0) - (logs[n - k] ?? 0);
  const all = choose(totalIn + totalOut, affected);
  const chance = (k: number) => Math.exp(choose(totalIn, k) + choose(totalOut, affected - k) - all);
  const seen = chance(affectedIn) * SAME;
  let [greater, twoSided] = [0, 0];
  for (let k = Math.max(0, affected - totalOut); k <= Math.min(totalIn, affected); k++) {
    const p = chance(k);
    if (k >= affectedIn) greater += p;
    if (p <= seen) twoSided += p;
  }
  return { greater: Math.min(1, greater), twoSided: Math.min(1, twoSided) };
}

/** The split itself; throws a RangeError on counts that cannot be. */
export function checkedSplit(split: Split): Split {
  wholeNumber(split.totalIn, 0, LARGEST, 'number in the group');
  wholeNumber(split.totalOut, 0, LARGEST, 'number outside');
  wholeNumber(split.affectedIn, 0, split.totalIn, 'affected in the group');
  wholeNumber(split.affectedOut, 0, split.totalOut, 'affected outside');
  return split;
}

function logFactorials(n: number): Float64Array {
  const logs = new Float64Array(n + 1);
  for (let i = 2; i <= n; i++) logs[i] = (logs[i - 1] ?? 0) + Math.log(i);
  return logs;
}

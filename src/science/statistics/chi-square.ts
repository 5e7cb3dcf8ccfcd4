import { inRange, wholeNumber } from '../numeric/range.ts';
import { normalPdf, normalTail } from './normal.ts';

/**
 * Probability that chi-square with `dof` degrees of freedom is above `x` (0 or above); finite sums 26.4.4 and 26.4.5 of
 * Abramowitz & Stegun (1964), relative error below 1e-10. Whole `dof` from 1 to 1000.
 */
export function chiSquareTail(x: number, dof: number): number {
  inRange(x, 0, Number.MAX_VALUE, 'chi-square');
  wholeNumber(dof, 1, 1000, 'degrees of freedom');
  const root = Math.sqrt(x);
  const odd = dof % 2 === 1;
  let term = odd ? 2 * normalPdf(root) * root : Math.exp(-x / 2);
  let sum = odd ? 2 * normalTail(root) : 0;
  for (let k = odd ? 3 : 2; k <= dof; k += 2) {
    sum += term;
    term *= x / k;
  }
  return Math.min(1, sum);
}

import { wholeNumber } from '../range.ts';

/**
 * Nodes and weights of Gauss-Legendre quadrature with `n` points (1 to 200) on [from, to]; exact for polynomials up to
 * degree 2n - 1. Abramowitz & Stegun (1964) 25.4.30, roots by Newton's method.
 */
export function gaussLegendre(n: number, from: number, to: number): { nodes: number[]; weights: number[] } {
  wholeNumber(n, 1, 200, 'number of nodes');
  const half = (to - from) / 2;
  const nodes: number[] = [];
  const weights: number[] = [];
  for (let i = 1; i <= n; i++) {
    let x = -Math.cos((Math.PI * (i - 0.25)) / (n + 0.5));
    for (let step = 0; step < 8; step++) {
      const { value, slope } = legendre(n, x);
      x -= value / slope;
    }
    const { slope } = legendre(n, x);
    nodes.push(from + half * (1 + x));
    weights.push((2 * half) / ((1 - x * x) * slope * slope));
  }
  return { nodes, weights };
}

/** The Legendre polynomial of degree n and its derivative at x, by the three-term recursion. */
function legendre(n: number, x: number): { value: number; slope: number } {
  let [before, value] = [0, 1];
  for (let k = 1; k <= n; k++) [before, value] = [value, ((2 * k - 1) * x * value - (k - 1) * before) / k];
  return { value, slope: (n * (x * value - before)) / (x * x - 1) };
}

import { Matrix, solve } from 'ml-matrix';
import { normalCdf, normalPdf } from '../normal.ts';
import { finite, inRange, notNegative, positive } from '../range.ts';
import { gaussLegendre } from './gauss-legendre.ts';

export interface CusumPoint {
  value: number;
  /** Sums of what goes beyond target + k upwards and target - k downwards. */
  high: number;
  low: number;
  signal: 'high' | 'low' | null;
}

/**
 * Two-sided cumulative sums for a shift of the mean: `k` (half the shift looked for) and `h` (limit) in the values'
 * unit. Usual: k = 0.5 and h = 4 to 5 SD; see `cusumRunLength`.
 *
 * Page 1954; NIST/SEMATECH e-Handbook 6.3.2.3.
 */
export function cusumChart(values: readonly number[], target: number, k: number, h: number): CusumPoint[] {
  finite(target, 'target');
  notNegative(k, 'reference value k');
  positive(h, 'limit h');
  let [high, low] = [0, 0];
  return values.map((value) => {
    high = Math.max(0, high + finite(value, 'value') - target - k);
    low = Math.max(0, low + target - k - value);
    return { value, high, low, signal: high > h ? 'high' : low > h ? 'low' : null };
  });
}

const NODES = 40;

/**
 * Mean number of values until a CUSUM signals, all in SD of single values: how often it cries wolf (shift 0), and how
 * long a shift stays unseen. Values independent and normal, the sums starting at 0.
 *
 * Integral equation of Page 1954 by Gauss-Legendre quadrature (Vance 1986), 40 nodes: error below 1e-8 for h up to 10.
 *
 * @param k 0 to 5; @param h above 0 to 20; @param shift of the mean, -10 to 10
 * @param sided 'one' for the upper sum alone; 'two' for both (Kemp 1961: the rates add up)
 */
export function cusumRunLength(k: number, h: number, shift: number, sided: 'one' | 'two' = 'two'): number {
  inRange(k, 0, 5, 'reference value k', 'SD');
  inRange(positive(h, 'limit h', 'SD'), 0, 20, 'limit h', 'SD');
  inRange(shift, -10, 10, 'shift', 'SD');
  const upper = oneSided(k, h, shift);
  return sided === 'one' ? upper : 1 / (1 / upper + 1 / oneSided(k, h, -shift));
}

/** Solves L(z) = 1 + L(0) P(to 0 from z) + integral of L(y) times the density from z to y, for L(0). */
function oneSided(k: number, h: number, shift: number): number {
  const { nodes, weights } = gaussLegendre(NODES, 0, h);
  const places = [0, ...nodes];
  const system = Matrix.zeros(places.length, places.length);
  for (const [i, from] of places.entries()) {
    system.set(i, 0, -normalCdf(k - shift - from));
    for (const [j, to] of nodes.entries()) {
      system.set(i, j + 1, -(weights[j] ?? 0) * normalPdf(to + k - shift - from));
    }
    system.set(i, i, system.get(i, i) + 1);
  }
  return solve(system, Matrix.ones(places.length, 1)).get(0, 0);
}

import { inRange } from '../numeric/range.ts';
import { normalQuantile } from './normal.ts';

/**
 * Probability that Student's t with `dof` degrees of freedom lies between -t and t; exact for whole `dof`, others are
 * rounded down (as GUM G.4.1 does). Abramowitz & Stegun (1964) 26.7.3 and 26.7.4.
 *
 * @param t 0 or above; @param dof 1 or above
 */
export function studentWithin(t: number, dof: number): number {
  inRange(t, 0, Number.MAX_VALUE, 't');
  const n = Math.floor(inRange(dof, 1, Number.MAX_SAFE_INTEGER, 'degrees of freedom'));
  const angle = Math.atan(t / Math.sqrt(n));
  const [sin, square] = [Math.sin(angle), Math.cos(angle) ** 2];
  const odd = n % 2 === 1;
  let term = odd ? Math.cos(angle) : 1;
  let sum = n === 1 ? 0 : term;
  for (let k = odd ? 3 : 2; k <= n - 2; k += 2) {
    term *= (square * (k - 1)) / k;
    sum += term;
  }
  return odd ? (2 / Math.PI) * (angle + sin * sum) : sin * sum;
}

/** From here on the normal distribution is taken, its quantile corrected by 1/dof (error below 1e-7). */
const LARGE_DOF = 2000;

/**
 * The t that holds Student's t between -t and t with probability `level` (0 < level < 1), the coverage factor of GUM
 * Table G.2. `dof` 1 or above; fractions are rounded down; Infinity gives the normal factor.
 */
export function coverageFactor(level: number, dof = Infinity): number {
  inRange(level, Number.MIN_VALUE, 1 - 1e-12, 'probability');
  inRange(dof, 1, Infinity, 'degrees of freedom');
  if (dof > LARGE_DOF) return largeSample(level, dof);
  const key = `${level} ${Math.floor(dof)}`;
  const known = factors.get(key) ?? bisected(level, dof);
  if (factors.size < MOST_KEPT) factors.set(key, known);
  return known;
}

/** The few factors that are asked for again and again: each takes a hundred evaluations to find. */
const factors = new Map<string, number>();
const MOST_KEPT = 5000;

function bisected(level: number, dof: number): number {
  let [low, high] = [0, 1];
  while (studentWithin(high, dof) < level) high *= 2;
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2;
    if (studentWithin(middle, dof) < level) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function largeSample(level: number, dof: number): number {
  const z = normalQuantile((1 + level) / 2);
  return z + (z ** 3 + z) / (4 * dof);
}

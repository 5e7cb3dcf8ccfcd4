import { ATOMIC_WEIGHT_G_PER_MOL } from './atoms.ts';
import { finite, inRange, positive } from './numeric/range.ts';
import { coverageFactor } from './statistics/student.ts';

/** Calcium, mg/L, that calcification takes with each meq/L of alkalinity: two equivalents a mole. IUPAC weights 2021. */
export const CALCIUM_PER_ALKALINITY = ATOMIC_WEIGHT_G_PER_MOL.Ca / 2;

/**
 * Calcium a meq/L of alkalinity that whole communities are measured to take, mg/L: corals alone 2.06 +- 0.19 mol of
 * alkalinity a mol of calcium, with algae and sediment 1.60 +- 0.14 (PeerJ 2, 2014, e249), taken a little wider (1.4 to 2.3).
 */
export const COMMUNITY_RATIO = { low: 17, high: 29 } as const;

/** A quantity with its standard uncertainty. */
export interface MeasuredDemand {
  value: number;
  sd: number;
}

/** A ratio with the interval that holds it; an open end is infinite. */
export interface Ratio {
  value: number;
  low: number;
  high: number;
}

/**
 * The ratio of two independent normal quantities with its interval. Exact, unlike the propagation of errors, where the
 * lower one is not known well. Null where the divisor cannot be told from 0: then any ratio is possible.
 *
 * @param level probability that the interval holds the true ratio
 * @throws RangeError for an impossible number
 * Source: E. C. Fieller, "Some problems in interval estimation", J. R. Stat. Soc. B 16 (1954) 175.
 */
export function ratioOf(upper: MeasuredDemand, lower: MeasuredDemand, level = 0.95): Ratio | null {
  finite(upper.value, 'dividend');
  finite(lower.value, 'divisor');
  const factor = coverageFactor(inRange(level, 0.5, 0.9999, 'probability'));
  const [a, b] = [upper.value, lower.value];
  const [va, vb] = [
    (factor * positive(upper.sd, 'standard uncertainty of the dividend')) ** 2,
    (factor * positive(lower.sd, 'standard uncertainty of the divisor')) ** 2,
  ];
  const clear = b * b - vb;
  if (clear <= 0) return null;
  const root = Math.sqrt((a * b) ** 2 - clear * (a * a - va));
  return { value: a / b, low: (a * b - root) / clear, high: (a * b + root) / clear };
}

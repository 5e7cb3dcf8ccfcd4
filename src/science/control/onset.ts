import { inRange } from '../numeric/range.ts';

/** Where in a series a change began: steps by their index, and the chance that the interval holds the first changed one. */
export interface Onset {
  likeliest: number;
  from: number;
  to: number;
}

/**
 * The interval that holds the first changed step with the given chance, from the detector's own likelihood: for each step
 * the logarithm of how much likelier it is after the change than before it. Every step may be the first with equal chance,
 * so the chance of step k is proportional to exp(sum from k on) (Hinkley 1970, Biometrika 57: 1, with a flat prior).
 * @throws RangeError for no steps, or a chance not within 0 to 1
 */
export function onsetOf(steps: readonly number[], chance = 0.9): Onset {
  inRange(chance, 0, 1, 'chance');
  if (steps.length === 0) throw new RangeError('an onset needs at least one step');
  const sums: number[] = [];
  let sum = 0;
  for (const step of steps.toReversed()) sums.push((sum += step));
  sums.reverse();
  const top = Math.max(...sums);
  const weights = sums.map((one) => Math.exp(one - top));
  const total = weights.reduce((a, b) => a + b, 0);
  const at = (share: number) => {
    let reached = 0;
    const index = weights.findIndex((weight) => (reached += weight) >= share * total);
    return index < 0 ? steps.length - 1 : index;
  };
  const tail = (1 - chance) / 2;
  return { likeliest: sums.indexOf(top), from: at(tail), to: at(1 - tail) };
}

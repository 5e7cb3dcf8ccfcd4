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
  const sums = sumsFrom(steps);
  const top = Math.max(...sums);
  const weights = sums.map((one) => Math.exp(one - top));
  const reached = sumsFrom(weights.toReversed()).toReversed();
  const total = reached.at(-1) ?? 0;
  const at = (share: number) => reached.findIndex((one) => one >= share * total);
  const tail = (1 - chance) / 2;
  return { likeliest: sums.indexOf(top), from: at(tail), to: at(1 - tail) };
}

/** At each place the sum from there to the end. */
function sumsFrom(values: readonly number[]): number[] {
  const sums = new Array<number>(values.length);
  values.reduceRight((sum, value, i) => {
    sums[i] = sum + value;
    return sum + value;
  }, 0);
  return sums;
}

import { agreement, combine } from '../../science/statistics/uncertainty.ts';
import type { MeasuredReading } from './measured.ts';

/**
 * Two readings agree when their normalised error is at most 1 (ISO 13528), two bounds on one side as two values do: "more
 * than 20" is no repeat of "more than 50". A bound agrees with a value that lies within it.
 */
export function agree(a: MeasuredReading, b: MeasuredReading): boolean {
  if (isAbove(a) !== isAbove(b)) return agreeAbove(a, b);
  if (a.below !== b.below) {
    const [limit, value] = a.below ? [a, b] : [b, a];
    return value.value <= limit.value + 2 * combine(a.uncertainty, b.uncertainty);
  }
  if (a.uncertainty === 0 && b.uncertainty === 0) return a.value === b.value;
  return agreement({ value: a.value, u: a.uncertainty }, { value: b.value, u: b.uncertainty }).agree;
}

/**
 * Whether what one reading says follows from a bound of another, though it says less: "more than 20" from "more than 50"
 * or from 60, "less than 0.5" from "less than 0.01". It is borne out; the other is not, since nothing repeated it.
 */
export function followsFrom(weaker: MeasuredReading, stronger: MeasuredReading): boolean {
  if (isAbove(weaker))
    return !stronger.below && stronger.value > weaker.value && !saysAlike(weaker, stronger);
  return weaker.below && stronger.below && stronger.value < weaker.value && !saysAlike(weaker, stronger);
}

const isAbove = ({ above }: MeasuredReading): boolean => above === true;

const saysAlike = (a: MeasuredReading, b: MeasuredReading): boolean =>
  Math.abs(a.value - b.value) <= 2 * combine(a.uncertainty, b.uncertainty);

function agreeAbove(a: MeasuredReading, b: MeasuredReading): boolean {
  const [limit, value] = isAbove(a) ? [a, b] : [b, a];
  return value.value >= limit.value - 2 * combine(a.uncertainty, b.uncertainty);
}

import { agreement, combine } from '../../science/statistics/uncertainty.ts';
import type { MeasuredReading } from './measured.ts';

/**
 * Two readings agree when their normalised error is at most 1 (ISO 13528). Two below detection always agree, as do two
 * beyond the scale; a bound agrees with a value that lies within it.
 */
export function agree(a: MeasuredReading, b: MeasuredReading): boolean {
  if (a.above || b.above) return agreeAbove(a, b);
  if (a.below && b.below) return true;
  if (a.below !== b.below) {
    const [limit, value] = a.below ? [a, b] : [b, a];
    return value.value <= limit.value + 2 * combine(a.uncertainty, b.uncertainty);
  }
  if (a.uncertainty === 0 && b.uncertainty === 0) return a.value === b.value;
  return agreement({ value: a.value, u: a.uncertainty }, { value: b.value, u: b.uncertainty }).agree;
}

function agreeAbove(a: MeasuredReading, b: MeasuredReading): boolean {
  if (a.above && b.above) return true;
  const [limit, value] = a.above ? [a, b] : [b, a];
  return value.value >= limit.value - 2 * combine(a.uncertainty, b.uncertainty);
}

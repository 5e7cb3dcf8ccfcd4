import type { ReadingFact, SystemFacts } from '../../facts/types.ts';
import { withoutKitBias } from './kit-bias.ts';

/** A value with its standard uncertainty, from one reading or the mean of a day. */
export interface UncertainValue {
  value: number;
  u: number;
  reading: ReadingFact | null;
}

/** Readings of a quantity that are relied on, a suspected kit's bias taken out. */
export function trustedReadings(facts: SystemFacts, code: string): ReadingFact[] {
  const { readings } = withoutKitBias(facts, code, facts.readings.get(code) ?? []);
  return readings.filter(({ trust }) => trust !== 'unconfirmed');
}

/** The reading nearest to a day, not further than `within` days from it and not below detection; null where there is none. */
export function nearestReading(
  readings: readonly ReadingFact[],
  day: number,
  within: number,
): UncertainValue | null {
  const off = (one: ReadingFact) => Math.abs(one.day - day);
  const near = readings.filter((one) => !one.below && !one.above && off(one) <= within);
  const best = near.reduce<ReadingFact | null>((a, b) => (a === null || off(b) < off(a) ? b : a), null);
  return best === null ? null : { value: best.value, u: best.u, reading: best };
}

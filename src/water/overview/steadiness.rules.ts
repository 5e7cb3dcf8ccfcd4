import { rangeLimit, rangeOfLast } from '../../science/filter/swing.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { convertDifference } from '../../science/units.ts';
import { type Quantity, showDifference } from '../quantities/quantities.ts';
import type { HistoryPoint } from './overview.ts';

/** What a system did of late, in a few words: the swing of seven days, and whether steady water shows as much. */
export function steadinessWords(points: readonly HistoryPoint[], quantity: Quantity, now: Date): string {
  const relied = points.filter((point) => point.trust !== 'unconfirmed' && !point.below);
  const days = relied.map((point) => ({
    day: dayOf(point.at),
    value: point.value,
    sd: point.uncertainty,
  }));
  const range = rangeOfLast(days, dayOf(now), 7);
  const last = relied.at(-1);
  if (range === null || last === undefined) return 'too few tests to say';
  const swung = `swung ${showDifference(quantity, range, last.value).text} in 7 d`;
  if (quantity.code !== 'alkalinity') return swung;
  const dkh = (difference: number) =>
    convertDifference('alkalinity', difference, quantity.canonicalUnit, 'dKH');
  return `${swung}, ${dkh(range) <= rangeLimit(dkh(last.uncertainty)) ? 'steady' : 'more than steady water'}`;
}

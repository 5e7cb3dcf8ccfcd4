import { sinceHabitsChanged } from '../../farm/events/habits.rules.ts';
import { rangeLimit, rangeOfLast } from '../../science/filter/swing.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { convertDifference } from '../../science/units.ts';
import { type Quantity, showDifference } from '../quantities/quantities.ts';
import type { HistoryPoint } from './overview.ts';

/**
 * The swing of the last seven days, since the habits of the water last changed, in a few words; for alkalinity also
 * whether steady water would swing as much.
 */
export function steadinessWords(
  points: readonly HistoryPoint[],
  events: readonly { day: number }[],
  quantity: Quantity,
  now: Date,
): string {
  const trusted = points.filter((point) => point.trust !== 'unconfirmed' && !point.below && !point.above);
  const days = trusted.map((point) => ({
    day: dayOf(point.at),
    value: point.value,
    sd: point.uncertainty,
  }));
  const range = rangeOfLast(sinceHabitsChanged(events, days), dayOf(now), 7);
  const last = trusted.at(-1);
  if (range === null || last === undefined) return 'too few tests to say';
  const swing = `swung ${showDifference(quantity, range, last.value).text} in 7 d`;
  if (quantity.code !== 'alkalinity') return swing;
  const dkh = (difference: number) =>
    convertDifference('alkalinity', difference, quantity.canonicalUnit, 'dKH');
  return `${swing}, ${dkh(range) <= rangeLimit(dkh(last.uncertainty)) ? 'steady' : 'more than steady water'}`;
}

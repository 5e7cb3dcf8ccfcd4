import { sinceHabitsChanged } from '../../farm/events/habits.rules.ts';
import { dayCount } from '../../platform/words/numbers.ts';
import { rangeLimit, rangeOfLast } from '../../science/filter/swing.ts';
import { dayOf } from '../../science/numeric/time.ts';
import { newestRun } from '../../science/trend.ts';
import { convertDifference } from '../../science/units.ts';
import { dailyAmountWords } from '../demand/words.rules.ts';
import { type Quantity, showDifference } from '../quantities/quantities.ts';
import type { HistoryPoint } from './overview.ts';

/** Days that are looked back on. */
const daysShown = 7;

/**
 * The swing of the last seven days, since the habits of the water last changed, in a few words; for alkalinity also
 * whether steady water would swing as much. Tests that fall or rise steadily are told as that.
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
    u: point.uncertainty,
    kitId: point.kitId,
  }));
  const learnt = sinceHabitsChanged(events, days);
  const last = trusted.at(-1);
  const run = newestRun(learnt.filter(({ kitId }) => kitId === last?.kitId));
  if (run !== null && last !== undefined && dayOf(now) - run.day < daysShown)
    return `${run.slope < 0 ? 'falls' : 'rises'} steadily by ${dailyAmountWords(quantity, Math.abs(run.slope), last.value)} a day for ${dayCount(Math.round(run.day - run.fromDay))}`;
  const range = rangeOfLast(learnt, dayOf(now), daysShown);
  if (range === null || last === undefined) return 'too few tests to say';
  const swing = `swung ${showDifference(quantity, range, last.value).text} in 7 d`;
  if (quantity.code !== 'alkalinity') return swing;
  const dkh = (difference: number) =>
    convertDifference('alkalinity', difference, quantity.canonicalUnit, 'dKH');
  return `${swing}, ${dkh(range) <= rangeLimit(dkh(last.uncertainty)) ? 'steady' : 'more than steady water'}`;
}

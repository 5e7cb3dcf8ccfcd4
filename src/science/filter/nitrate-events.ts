import { finite, inRange, notNegative, positive } from '../numeric/range.ts';
import type { Addition, NitrateHistory, NitrateReading, WaterChange } from './nitrate-types.ts';

/** What happened, in its order within one day. */
export type Event =
  | { day: number; order: 0; opening: true }
  | { day: number; order: 1; reading: NitrateReading }
  | { day: number; order: 2; change: WaterChange }
  | { day: number; order: 3; addition: Addition };

/** All of a log in order of time; throws a RangeError on what cannot be. */
export function inOrder({ readings, changes, additions = [], kitOpenings = [] }: NitrateHistory): Event[] {
  return [
    ...kitOpenings.map(
      (day): Event => ({ day: finite(day, 'day of kit opening', 'd'), order: 0, opening: true }),
    ),
    ...readings.map((reading): Event => ({ day: checkedReading(reading).day, order: 1, reading })),
    ...changes.map((change): Event => ({ day: checkedChange(change).day, order: 2, change })),
    ...additions.map((addition): Event => ({ day: checkedAddition(addition).day, order: 3, addition })),
  ].sort((a, b) => a.day - b.day || a.order - b.order);
}

/** First day of the log of changes (a first change ends an interval begun a week before it), or Infinity. */
export function logStart(events: readonly Event[]): number {
  const first = events.find((event) => 'change' in event || 'addition' in event);
  return first ? first.day - 7 : Infinity;
}

function checkedReading(reading: NitrateReading): NitrateReading {
  finite(reading.day, 'day of reading', 'd');
  notNegative(reading.value, 'reading');
  notNegative(reading.step ?? 0, 'step of the chart');
  inRange(positive(reading.relativeSd, 'relative uncertainty'), 0, 1, 'relative uncertainty');
  return reading;
}

function checkedChange(change: WaterChange): WaterChange {
  finite(change.day, 'day of water change', 'd');
  inRange(change.fraction, 0, 1, 'fraction changed');
  notNegative(change.makeUp, 'level in make-up water');
  inRange(change.fractionSd ?? 0, 0, 1, 'uncertainty of the fraction');
  return change;
}

function checkedAddition(addition: Addition): Addition {
  finite(addition.day, 'day of addition', 'd');
  finite(addition.rise, 'rise by addition');
  return addition;
}

import { Temporal } from 'temporal-polyfill';
import { daysBetween } from '../../science/numeric/time.ts';
import { localDay, momentOf } from '../days.ts';
import { whenWords } from '../words/times.ts';

/** Steps between the days named under a chart: days, weeks, then whole months or so. */
const steps = [1, 2, 7, 14, 30, 61, 91, 182, 365];

/** A day under a chart. */
export interface DayTick {
  at: Date;
  text: string;
}

/**
 * Midnights of the farm's own days between two moments, counted back from the last one, at most `most` of them. The
 * year stands only where it is another than that of the day before it, or, over more than most of a year, than the last one's.
 */
export function dayTicks(from: Date, to: Date, timeZone: string, most: number): DayTick[] {
  const days = daysBetween(from, to);
  const step = steps.find((one) => Math.floor(days / one) < most) ?? Math.ceil(days / (most - 1));
  const last = Temporal.PlainDate.from(localDay(to, timeZone));
  const yearKnown = (before: Date | undefined) => before ?? (days > 330 ? to : from);
  const moments: { at: Date; day: string }[] = [];
  for (let back = 0; back <= days; back += step) {
    const day = last.subtract({ days: back }).toString();
    const at = momentOf(day, '00:00', timeZone);
    if (at < from) break;
    moments.unshift({ at, day });
  }
  return moments.map(({ at, day }, i) => ({
    at,
    text: whenWords(day, timeZone, yearKnown(moments[i - 1]?.at)),
  }));
}

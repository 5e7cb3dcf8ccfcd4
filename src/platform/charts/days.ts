import { Temporal } from 'temporal-polyfill';
import { daysBetween } from '../../science/numeric/time.ts';
import { localDay, momentOf } from '../days.ts';
import { whenWords } from '../words/times.ts';

/** Steps between the days named under a chart: days, weeks, then whole months or so. */
const steps = [1, 2, 7, 14, 30, 61, 91, 182, 365];

/** Hours between the times named under a chart of few days, and how many days those are. */
const hourSteps = [3, 6, 12];
const fewDays = 4;

/** A day under a chart. */
export interface DayTick {
  at: Date;
  text: string;
}

/**
 * Midnights of the farm's own days between two moments, counted back from the last one, at most `most` of them. The
 * year stands only where it is another than that of the day before it, or, over more than most of a year, than the last one's.
 * Over a few days hours are named between them.
 */
export function dayTicks(from: Date, to: Date, timeZone: string, most: number): DayTick[] {
  const days = daysBetween(from, to);
  if (days <= fewDays) return hourTicks(from, to, timeZone, most);
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

/** Whole hours of the farm's own clock at even steps of the day; midnight is the day that begins. */
function hourTicks(from: Date, to: Date, timeZone: string, most: number): DayTick[] {
  const days = daysBetween(from, to);
  const step = hourSteps.find((one) => (24 * days) / one < most) ?? 24;
  const first = Temporal.PlainDate.from(localDay(from, timeZone));
  const ticks = Array.from({ length: fewDays + 2 }, (_, ahead) =>
    first.add({ days: ahead }).toString(),
  ).flatMap((day) =>
    Array.from({ length: 24 / step }, (_, i): DayTick => {
      const clock = `${String(i * step).padStart(2, '0')}:00`;
      return { at: momentOf(day, clock, timeZone), text: i === 0 ? whenWords(day, timeZone, to) : clock };
    }),
  );
  return ticks.filter(({ at }) => at >= from && at <= to);
}

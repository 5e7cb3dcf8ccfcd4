import { Temporal } from 'temporal-polyfill';
import { monthNamed } from '../file/dates.rules.ts';
import { aboutFigure } from '../file/sheet-shape.rules.ts';

/** A count that is written as about so many, or as a range; null where it is none. Words in three languages. */
export function looseCount(text: string): { least: number } | null {
  const found =
    /^(\d+)$/.exec(aboutFigure(text) ?? '') ??
    /^(\d+)\s*(?:\?|\+|(?:[-–—]|to|bis)\s*\d+)$/i.exec(text) ??
    /^(?:min\.?|mind\.?|at least|mindestens|≥|>=)\s*(\d+)$/i.exec(text);
  if (found !== null) return { least: Number(found[1]) };
  const [, below] = /^>\s*(\d+)$/.exec(text) ?? [];
  return below === undefined ? null : { least: Number(below) + 1 };
}

/** A stretch of days, both counted, "2026-08-01". */
export interface Days {
  from: string;
  to: string;
}

/** What a text says that names no day: a stretch of days, or a month and a number that may be its year or its day. */
export type LooseDay =
  | { is: 'stretch'; days: Days }
  | { is: 'month and number'; ofYear: Days; ofDay: string };

const isoOf = (day: Temporal.PlainDate) => day.toString();
const stretch = (from: Temporal.PlainDate, duration: Temporal.DurationLike): Days => ({
  from: isoOf(from),
  to: isoOf(from.add(duration).subtract({ days: 1 })),
});
const fullYear = (text: string) => (text.length === 2 ? 2000 + Number(text) : Number(text));

function monthOf(year: number, month: number): Days | null {
  if (month < 1 || month > 12) return null;
  return stretch(Temporal.PlainDate.from({ year, month, day: 1 }), { months: 1 });
}

/** A week as ISO 8601 counts them; without a year the last one that has begun. */
function weekOf(week: number, year: number | null, today: string): Days | null {
  const monday = (of: number) => {
    const fourth = Temporal.PlainDate.from({ year: of, month: 1, day: 4 });
    return fourth.subtract({ days: fourth.dayOfWeek - 1 }).add({ weeks: week - 1 });
  };
  const thisYear = Temporal.PlainDate.from(today).year;
  const of = year ?? (isoOf(monday(thisYear)) > today ? thisYear - 1 : thisYear);
  const from = monday(of);
  // The Thursday of a week lies in the year the week is counted in.
  return week < 1 || from.add({ days: 3 }).year !== of ? null : stretch(from, { weeks: 1 });
}

/** "Aug 26": August 2026, or the 26th of August that was last. */
function monthAndNumber(name: string, number: string, today: string): LooseDay | null {
  const month = monthNamed(name);
  const ofYear = month === 0 ? null : monthOf(fullYear(number), month);
  if (ofYear === null) return null;
  const day = Number(number);
  const length = Temporal.PlainDate.from(ofYear.from).daysInMonth;
  if (number.length === 4 || day < 1 || day > length) return { is: 'stretch', days: ofYear };
  const here = Temporal.PlainDate.from({ year: Number(today.slice(0, 4)), month, day });
  return {
    is: 'month and number',
    ofYear,
    ofDay: isoOf(isoOf(here) > today ? here.subtract({ years: 1 }) : here),
  };
}

/**
 * What a text says that names no day of the calendar: a month ("Aug 2026", "08/2026"), a week ("KW 32", "2026-W32"), a
 * quarter or a year; null where it says nothing of the kind.
 * @param today "2026-11-24"
 */
export function looseDay(text: string, today: string): LooseDay | null {
  const days = (found: Days | null): LooseDay | null =>
    found === null ? null : { is: 'stretch', days: found };
  const plain = text.trim().replace(/\s+/g, ' ');
  const named = /^(\p{L}{3,10})\.?[ '’/-]*(\d{4}|\d{2})$/u.exec(plain);
  if (named !== null && monthNamed(named[1] ?? '') > 0)
    return monthAndNumber(named[1] ?? '', named[2] ?? '', today);
  const monthYear = /^(\d{1,2})[./-](\d{4})$/.exec(plain);
  if (monthYear !== null) return days(monthOf(Number(monthYear[2]), Number(monthYear[1])));
  const yearMonth = /^(\d{4})[./-](\d{1,2})$/.exec(plain);
  if (yearMonth !== null) return days(monthOf(Number(yearMonth[1]), Number(yearMonth[2])));
  const week =
    /^(?:KW|CW|W|wk|week|woche|semaine|semana|settimana)\.? ?(\d{1,2})(?:[ /.-]+(\d{4}|\d{2}))?$/i.exec(
      plain,
    ) ?? /^(\d{1,2})\.? ?(?:KW|week|woche)(?:[ /.-]+(\d{4}|\d{2}))?$/i.exec(plain);
  if (week !== null)
    return days(weekOf(Number(week[1]), week[2] === undefined ? null : fullYear(week[2]), today));
  const isoWeek = /^(\d{4})-?W(\d{1,2})$/i.exec(plain);
  if (isoWeek !== null) return days(weekOf(Number(isoWeek[2]), Number(isoWeek[1]), today));
  const quarter = /^Q([1-4])[ /-]*(\d{4})$/i.exec(plain);
  if (quarter !== null) {
    const from = Temporal.PlainDate.from({
      year: Number(quarter[2]),
      month: Number(quarter[1]) * 3 - 2,
      day: 1,
    });
    return days(stretch(from, { months: 3 }));
  }
  const year = /^(?:19|20)\d{2}$/.exec(plain);
  return year === null
    ? null
    : days(stretch(Temporal.PlainDate.from({ year: Number(plain), month: 1, day: 1 }), { years: 1 }));
}

/** One day of a stretch, none after today. */
export function dayOf({ from, to }: Days, which: 'first' | 'middle' | 'last', today: string): string {
  const [first, last] = [from, to < today ? to : today].map((day) => Temporal.PlainDate.from(day));
  if (first === undefined || last === undefined || which === 'first' || from > today) return from;
  if (which === 'last') return isoOf(last);
  return isoOf(first.add({ days: Math.floor(first.until(last).days / 2) }));
}

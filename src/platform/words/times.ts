import { Temporal } from 'temporal-polyfill';
import { minuteMs } from '../../science/numeric/time.ts';
import { shownThere } from './zone-offset.ts';

/**
 * A point in time (a Date, or an ISO 8601 string with an offset), or a calendar day ("2026-11-24"), which has
 * no zone and no clock time. A `date` column that arrives as a Date at UTC midnight is not a calendar day:
 * pass its first ten ISO characters instead, or a zone west of Greenwich shows the day before.
 */
export type Moment = Date | string;

/** A plain reading of a moment in one time zone; `clock` is null for a calendar day. */
interface Local {
  day: Temporal.PlainDate;
  clock: string | null;
}

const MONTHS = 'January February March April May June July August September October November December'.split(
  ' ',
);
const WEEKDAYS = 'Monday Tuesday Wednesday Thursday Friday Saturday Sunday'.split(' ');
const CALENDAR_DAY = /^\d{4}-\d{2}-\d{2}$/;
/** Beyond this many days a count stops meaning anything, and the date is said instead. */
const DAYS_COUNTED = 60;

/** "24 Nov 2026". */
export function dateWords(at: Moment, timeZone: string): string {
  const { day } = local(at, timeZone);
  return `${day.day} ${shortMonth(day)} ${day.year}`;
}

/** "November 2026" of a month as "2026-11". */
export function monthWords(month: string): string {
  const { month: number, year } = Temporal.PlainYearMonth.from(month);
  return `${MONTHS[number - 1]} ${year}`;
}

/** "Tuesday 24 November"; with the year when it is not the year of `now`. */
export function dayWords(at: Moment, timeZone: string, now: Moment): string {
  const { day } = local(at, timeZone);
  return `${WEEKDAYS[day.dayOfWeek - 1]} ${day.day} ${MONTHS[day.month - 1]}${yearUnlessNow(day, timeZone, now)}`;
}

/** "07:30", by the 24-hour clock. */
export function timeWords(at: Moment, timeZone: string): string {
  const { clock } = local(at, timeZone);
  if (clock === null) throw new RangeError(`${at} is a calendar day and has no clock time`);
  return clock;
}

/** "24 Nov 07:30"; with the year when it is not the year of `now`; a calendar day is said without a clock time. */
export function whenWords(at: Moment, timeZone: string, now: Moment): string {
  const { day, clock } = local(at, timeZone);
  const date = `${day.day} ${shortMonth(day)}${yearUnlessNow(day, timeZone, now)}`;
  return clock === null ? date : `${date} ${clock}`;
}

/**
 * How long ago, as it would be said: "just now", "12 min ago", "3 h ago" within the same day, then
 * "yesterday 07:30", "12 days ago", and the date itself after 60 days. Ahead of `now`: "in 12 min", "in 3 h",
 * "tomorrow 07:30", "in 12 days".
 */
export function agoWords(at: Moment, timeZone: string, now: Moment): string {
  const then = local(at, timeZone);
  const days = then.day.until(local(now, timeZone).day, { largestUnit: 'days' }).days;
  if (Math.abs(days) > DAYS_COUNTED) return dateWords(at, timeZone);
  const recent = then.clock === null ? null : elapsedWords(at, now, days);
  return recent ?? daysWords(days, then.clock);
}

/** The `datetime` attribute of a `<time>` element: an instant in UTC, or the calendar day itself. */
export function machineTime(at: Moment): string {
  if (typeof at === 'string' && CALENDAR_DAY.test(at)) return at;
  return new Date(instantOf(at)).toISOString().replace(/\.?0*Z$/, 'Z');
}

function elapsedWords(at: Moment, now: Moment, days: number): string | null {
  const milliseconds = instantOf(now) - instantOf(at);
  const minutes = Math.floor(Math.abs(milliseconds) / minuteMs);
  if (minutes === 0) return milliseconds < 0 ? 'in a moment' : 'just now';
  if (minutes >= 60 && days !== 0) return null;
  const length = minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h`;
  return milliseconds < 0 ? `in ${length}` : `${length} ago`;
}

function daysWords(days: number, clock: string | null): string {
  const atClock = clock === null ? '' : ` ${clock}`;
  if (days === 0) return 'today';
  if (days === 1) return `yesterday${atClock}`;
  if (days === -1) return `tomorrow${atClock}`;
  return days > 0 ? `${days} days ago` : `in ${-days} days`;
}

function yearUnlessNow(day: Temporal.PlainDate, timeZone: string, now: Moment): string {
  return day.year === local(now, timeZone).day.year ? '' : ` ${day.year}`;
}

function shortMonth(day: Temporal.PlainDate): string {
  return (MONTHS[day.month - 1] ?? '').slice(0, 3);
}

/** Moments as read lately: an evaluation and a page say few days many times, and reading one takes long. */
const readLately = new Map<string, Local>();
const MOST_READ = 5000;

function local(at: Moment, timeZone: string): Local {
  const key = `${timeZone} ${typeof at === 'string' ? at : at.getTime()}`;
  const known = readLately.get(key);
  if (known !== undefined) return known;
  const read = readLocal(at, timeZone);
  if (readLately.size >= MOST_READ) readLately.clear();
  readLately.set(key, read);
  return read;
}

function readLocal(at: Moment, timeZone: string): Local {
  if (typeof at === 'string' && CALENDAR_DAY.test(at))
    return { day: Temporal.PlainDate.from(at), clock: null };
  const there = shownThere(new Date(instantOf(at)), timeZone);
  const day = new Temporal.PlainDate(there.getUTCFullYear(), there.getUTCMonth() + 1, there.getUTCDate());
  return { day, clock: there.toISOString().slice(-13, -8) };
}

/** A point in time as ms since 1970. */
function instantOf(at: Moment): number {
  if (typeof at === 'string') return Temporal.Instant.from(at).epochMilliseconds;
  if (at instanceof Date && !Number.isNaN(at.getTime())) return at.getTime();
  throw new RangeError(`${String(at)} is not a date`);
}

import { Temporal } from 'temporal-polyfill';
import { dayMs } from '../science/numeric/time.ts';
import { shownThere } from './words/zone-offset.ts';

/** "2026-11-24": the local day of a moment. */
export function localDay(at: Date, timeZone: string): string {
  return isoDay(shownThere(at, timeZone));
}

/** A calendar day ("2026-11-24") as whole days since 1970. */
export const dayNumber = (day: string): number => Date.parse(day) / dayMs;

/** The calendar day of a day number; the inverse of {@link dayNumber}. */
export const calendarDayOf = (number: number): string => isoDay(new Date(number * dayMs));

const isoDay = (at: Date) => at.toISOString().replace(/T.*/, '');

/** The moment a local day ("2026-11-24") and time of day ("06:30") begin in a zone. */
export function momentOf(day: string, time: string, timeZone: string): Date {
  const local = Temporal.PlainDateTime.from(`${day}T${time}`).toZonedDateTime(timeZone);
  return new Date(local.epochMilliseconds);
}
/** The day so many days after a calendar day ("2026-11-24"); before it when `days` is negative. */
export function addDays(day: string, days: number): string {
  return Temporal.PlainDate.from(day).add({ days }).toString();
}

/** Whole days from one calendar day to another; negative when `to` comes first. */
export function calendarDaysBetween(from: string, to: string): number {
  return Temporal.PlainDate.from(from).until(Temporal.PlainDate.from(to), { largestUnit: 'days' }).days;
}

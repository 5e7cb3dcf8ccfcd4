import { Temporal } from 'temporal-polyfill';

/** "2026-11-24": the local day of a moment. */
export function localDay(at: Date, timeZone: string): string {
  return Temporal.Instant.fromEpochMilliseconds(at.getTime())
    .toZonedDateTimeISO(timeZone)
    .toPlainDate()
    .toString();
}

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

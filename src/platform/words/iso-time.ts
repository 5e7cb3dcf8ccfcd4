import { Temporal } from 'temporal-polyfill';

/** "2026-11-24T07:30:00+00:00": ISO 8601 in a zone, with its offset. */
export function isoTime(at: Date, timeZone: string): string {
  const zoned = Temporal.Instant.fromEpochMilliseconds(at.getTime()).toZonedDateTimeISO(timeZone);
  return zoned.toString({ timeZoneName: 'never', smallestUnit: 'second' });
}

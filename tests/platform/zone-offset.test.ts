import { Temporal } from 'temporal-polyfill';
import { describe, expect, test } from 'vitest';
import { calendarDayOf, dayNumber, localDay } from '../../src/platform/days.ts';
import { isoTime } from '../../src/platform/words/iso-time.ts';
import { machineTime, timeWords } from '../../src/platform/words/times.ts';
import { zoneOffset } from '../../src/platform/words/zone-offset.ts';

// Held to Temporal's own calculation, which asks the zone's table at each moment.

/** With clocks that go by whole, half and quarter hours, put on and back at other times and by other steps, and over the date line. */
const zones = [
  ...['UTC', 'Europe/Lisbon', 'America/New_York', 'America/St_Johns', 'Asia/Kathmandu', 'Asia/Kolkata'],
  ...['Australia/Lord_Howe', 'Africa/Casablanca', 'Pacific/Apia', 'Pacific/Chatham', 'Antarctica/Troll'],
  ...['America/Sao_Paulo', 'Asia/Tehran', 'Africa/Cairo', 'Asia/Pyongyang'],
];

const there = (ms: number, zone: string) =>
  Temporal.Instant.fromEpochMilliseconds(ms).toZonedDateTimeISO(zone);

/** The moments before, at and after each change of a zone's clocks, and noon of days between. */
function momentsOf(zone: string): number[] {
  const moments = [Date.UTC(1990, 0, 1, 12), Date.UTC(2040, 5, 1, 12)];
  let at: Temporal.ZonedDateTime | null = there(Date.UTC(2000, 0, 1), zone);
  while (at !== null && at.year < 2031) {
    const ms = at.epochMilliseconds;
    moments.push(...[-7_200_001, -1, 0, 1, 86_399_999, 40 * 86_400_000].map((more) => ms + more));
    at = at.getTimeZoneTransition('next');
  }
  return moments;
}

describe.each(zones)('in %s', (zone) => {
  test('offset, day, time of day and ISO 8601 are what the zone’s table says, whichever moment was asked for before', () => {
    const moments = momentsOf(zone);
    for (const ms of [...moments, ...moments.toReversed()]) {
      const [at, zoned] = [new Date(ms), there(ms, zone)];
      expect(zoneOffset(at, zone)).toBe(zoned.offsetNanoseconds / 1e6);
      expect(localDay(at, zone)).toBe(zoned.toPlainDate().toString());
      expect(isoTime(at, zone)).toBe(zoned.toString({ timeZoneName: 'never', smallestUnit: 'second' }));
      expect(timeWords(at, zone)).toBe(zoned.toPlainTime().toString({ smallestUnit: 'minute' }));
    }
  });
});

test('a moment for programs has no more digits than it needs', () => {
  const said = ['2026-11-24T07:30:00.000Z', '2026-11-24T07:30:10.500Z', '2026-11-24T00:00:00.007Z'];
  for (const text of said) expect(machineTime(new Date(text))).toBe(Temporal.Instant.from(text).toString());
});

test('days are counted from 1970 on, and back', () => {
  for (const day of ['1969-12-31', '1970-01-01', '2000-02-29', '2026-11-24'])
    expect([dayNumber(day), calendarDayOf(dayNumber(day))]).toEqual([
      Temporal.PlainDate.from('1970-01-01').until(day, { largestUnit: 'days' }).days,
      day,
    ]);
});

test('what is no zone and what is no moment is refused', () => {
  expect(() => zoneOffset(new Date(), 'Nowhere/At_All')).toThrow(RangeError);
  expect(() => localDay(new Date(Number.NaN), 'UTC')).toThrow(RangeError);
  expect(() => isoTime(new Date(Number.NaN), 'UTC')).toThrow(RangeError);
});

import { describe, expect, test } from 'vitest';
import { dateOrderDetector, momentReader, parseDateAndTime } from '../../../src/intake/file/dates.rules.ts';

// Day and time as ISO 8601 and RFC 3339 write them, and the other forms in common use (common practice).

const hms = (h: number, m: number, s = 0) => h * 3600 + m * 60 + s;

describe('a day and time', () => {
  test.each([
    ['2026-11-24', { year: 2026, month: 11, day: 24 }, null, null],
    ['2026/1/4', { year: 2026, month: 1, day: 4 }, null, null],
    ['2026-11-24T07:30:15Z', { year: 2026, month: 11, day: 24 }, hms(7, 30, 15), 0],
    ['2026-11-24T07:30:15.250+05:30', { year: 2026, month: 11, day: 24 }, hms(7, 30, 15), 330],
    ['2026-11-24 07:30 -0345', { year: 2026, month: 11, day: 24 }, hms(7, 30), -225],
    ['24.11.2026 7:30', { year: 2026, first: 24, second: 11 }, hms(7, 30), null],
    ['11/24/26 7:30 PM', { year: 2026, first: 11, second: 24 }, hms(19, 30), null],
    ['11/24/2026 12:05 a.m.', { year: 2026, first: 11, second: 24 }, hms(0, 5), null],
    ['24 Nov 2026, 12:05 pm', { year: 2026, month: 11, day: 24 }, hms(12, 5), null],
    ['24-November-2026', { year: 2026, month: 11, day: 24 }, null, null],
    ['Nov 24, 2026', { year: 2026, month: 11, day: 24 }, null, null],
    ['24.11.2026 8.45', { year: 2026, first: 24, second: 11 }, hms(8, 45), null],
    ['24/11/2026 18h30', { year: 2026, first: 24, second: 11 }, hms(18, 30), null],
    ['24.11.2026 9 Uhr', { year: 2026, first: 24, second: 11 }, hms(9, 0), null],
    ['11/24/26 6 pm', { year: 2026, first: 11, second: 24 }, hms(18, 0), null],
    ['3. März 2026', { year: 2026, month: 3, day: 3 }, null, null],
    ['3 juillet 2026', { year: 2026, month: 7, day: 3 }, null, null],
    ['3 de diciembre de 2026', { year: 2026, month: 12, day: 3 }, null, null],
  ])('"%s" is understood', (text, day, seconds, offset) => {
    expect(parseDateAndTime(text)).toEqual({ day, seconds, offset });
  });

  test.each([
    ['', 'nothing'],
    ['46350', 'the day number of a spreadsheet'],
    ['24 Foo 2026', 'a month that there is not'],
    ['2026-11-24 24:00', 'an hour beyond 23'],
    ['2026-11-24 07:60', 'a minute beyond 59'],
    ['2026-11-24 13:00 pm', 'an hour beyond 12 with am or pm'],
    ['2026-11-24 07:30 CET', 'a zone by its letters, which several zones share'],
  ])('"%s" is not: %s', (text) => {
    expect(parseDateAndTime(text)).toBeNull();
  });
});

describe('the order of day and month', () => {
  const today = '2026-11-24';
  test.each([
    ['a first number beyond 12', ['03/04/2026', '25/10/2026'], 'day-first', true],
    ['a second number beyond 12', ['03/04/2026', '10/25/2026'], 'month-first', true],
    ['a day that has not come yet, read month first', ['12/01/2026'], 'day-first', true],
    ['a day that has not come yet, read day first', ['01/12/2026'], 'month-first', true],
    ['both orders in one file', ['25/10/2026', '10/25/2026'], null, false],
    ['nothing', ['03/04/2026', '05/05/2026'], null, false],
    ['numbers that fit neither order, which leave nothing open', ['31/31/2026'], null, true],
    ['the year in front, which leaves nothing open', ['2026-03-04', '3 Apr 2026'], null, true],
  ])('%s', (_, texts, order, settled) => {
    const detector = dateOrderDetector(today);
    for (const text of texts) detector.add(text);
    expect(detector.evidence()).toMatchObject({ order, settled });
  });
});

describe('a moment', () => {
  const lisbon = momentReader('Europe/Lisbon', 'day-first', '09:30');
  test.each([
    ['a day alone gets the time of day that was answered', '2026-01-05', '2026-01-05T09:30:00.000Z'],
    ['summer time is an hour ahead of UTC', '2026-07-01 08:00', '2026-07-01T07:00:00.000Z'],
    ['a stated offset overrules the zone', '2026-07-01T08:00+02:00', '2026-07-01T06:00:00.000Z'],
    ['a month first date is not read day first', '10/25/2026', 'not a day of the calendar'],
    ['a leap day is a day only in a leap year', '29/02/2026', 'not a day of the calendar'],
    ['and in a leap year it is one', '29/02/2024 08:00', '2024-02-29T08:00:00.000Z'],
    ['a year before 1990 is a slip', '24/11/1926', 'before 1990'],
    ['a year of two digits is of this century', '05/01/26 08:00', '2026-01-05T08:00:00.000Z'],
  ])('%s', (_, text, wanted) => {
    const moment = lisbon(text);
    expect('at' in moment ? moment.at.toISOString() : moment.fault).toContain(wanted);
  });
});

import { describe, expect, it } from 'vitest';
import { lateWords } from '../../src/digest/content.rules.ts';
import { spanWords as lookSpan } from '../../src/emergencies/running/screen.ts';
import { containerWords } from '../../src/farm/equipment/equipment.words.ts';
import { spanWords as offSpan } from '../../src/farm/switched-off/span.words.ts';
import { doneWords } from '../../src/platform/plans/plans.rules.ts';
import { andWords } from '../../src/platform/words/lists.ts';
import { dayCount, numberWords, plural, withSign } from '../../src/platform/words/numbers.ts';
import {
  agoWords,
  dateWords,
  dayWords,
  machineTime,
  timeWords,
  whenWords,
} from '../../src/platform/words/times.ts';
import { durationWords } from '../../src/rounds/screens/screens.ts';
import { affectedWords } from '../../src/watch/affected/affected.words.ts';
import { forWords } from '../../src/watch/alerts/alerts.words.ts';
import { afterWords, stepAmountWords } from '../../src/water/corrections/view.ts';
import { standingWords } from '../../src/water/system-page/forecast.rules.ts';
import { slipsIn } from '../support/slips.ts';

const LISBON = 'Europe/Lisbon';
const NOW = new Date('2026-11-24T07:30:00Z');

// Every function that puts numbers into a sentence, with none, one, two, many and what is not known.
describe('sentences put together from parts', () => {
  const counts = [0, 1, 2, 3, 21, 101, 1000];
  const at = (minutes: number) => new Date(NOW.getTime() - minutes * 60_000);
  const parts = (n: number): Record<string, string | null> => ({
    plural: plural(n, 'lot', 'lots'),
    days: dayCount(n),
    off: offSpan(n),
    'off, hours': offSpan(60 * n),
    'off, days': offSpan(1440 * n),
    look: lookSpan(n),
    'look, hours': lookSpan(60 * n),
    container: containerWords({ litres: n / 10, days: n }),
    'container, use not known': containerWords({ litres: n, days: null }),
    after: afterWords(n),
    'after, not known': afterWords(null),
    amount: stepAmountWords(n + 0.5, 'g'),
    'amount, litres': stepAmountWords(n / 2, 'L'),
    duration: durationWords(at(n), NOW),
    late: lateWords(at(n), NOW, '06:30'),
    done: doneWords(Array.from({ length: n }, (_, i) => ({ doneAt: i % 2 === 0 ? NOW : null }))),
    'alert open': forWords({ openedAt: at(60 * n), clearedAt: null }, { timeZone: LISBON, now: NOW }),
    'alert, days': forWords({ openedAt: at(1440 * n), clearedAt: null }, { timeZone: LISBON, now: NOW }),
    ago: agoWords(at(n), LISBON, NOW),
    'days ago': agoWords(at(1440 * n), LISBON, NOW),
    ahead: agoWords(at(-60 * n), LISBON, NOW),
    affected: affectedWords(
      { affected: n, total: 2 * n + 1, best: null } as unknown as Parameters<typeof affectedWords>[0],
      n,
    ).sentences.join(' '),
    standing: standingWords(
      Array.from({ length: Math.min(n, 3) }, () => ({
        ...({ thing: 'doser', what: 'Alk doser', from: NOW, doses: null } as const),
      })),
      LISBON,
      NOW,
    ),
    sign: withSign(-n / 100, `${numberWords(n / 100, 1)} %`),
    list: andWords(Array.from({ length: n }, (_, i) => `T${i}`)),
  });

  it.each(counts)('have no slip with %d', (n) => {
    const slipped = Object.entries(parts(n)).flatMap(([name, said]) =>
      slipsIn(said ?? '').map((slip) => `${name}: ${slip}`),
    );
    expect(slipped).toEqual([]);
  });

  it('would show one', () => {
    for (const wrong of [
      'in 1 days',
      '2 lot are',
      '1 lots are',
      'a hour',
      'undefined g',
      '−0.0 %',
      '0.0 g',
      'Stop..',
      'to  it',
    ])
      expect(slipsIn(`Look ${wrong} there.`), wrong).not.toEqual([]);
    for (const right of [
      '11 days',
      '0.1 to 1 days',
      'cf., aff.',
      '1 lot is',
      '2 lots are',
      'an hour',
      '0 lots',
      '−0.4 %',
    ])
      expect(slipsIn(`Look ${right} there.`), right).toEqual([]);
  });
});

describe('numbers in words', () => {
  it.each([
    [0, '0 pieces'],
    [1, '1 piece'],
    [-1, '−1 pieces'],
    [1148, '1,148 pieces'],
  ])('%d pieces', (n, said) => {
    expect(plural(n, 'piece', 'pieces')).toBe(said);
  });

  it.each([
    [8, 2, '8.00'],
    [8.345, 1, '8.3'],
    [-0.001, 1, '0.0'],
    [-1.1, 1, '−1.1'],
    [20000, 0, '20,000'],
    [0.12345, undefined, '0.123'],
  ])('%d with %s decimals is %s', (value, decimals, said) => {
    expect(numberWords(value, decimals)).toBe(said);
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY])('%d is refused', (value) => {
    expect(() => numberWords(value)).toThrow(RangeError);
  });
});

describe('dates in words', () => {
  it('are said by the 24-hour clock of the site', () => {
    expect(dateWords(NOW, LISBON)).toBe('24 Nov 2026');
    expect(dayWords(NOW, LISBON, NOW)).toBe('Tuesday 24 November');
    expect(timeWords(new Date('2026-11-24T19:05:59Z'), LISBON)).toBe('19:05');
    expect(whenWords(NOW, LISBON, NOW)).toBe('24 Nov 07:30');
  });

  it('carry the year when it is another one', () => {
    expect(whenWords(new Date('2025-11-24T07:30:00Z'), LISBON, NOW)).toBe('24 Nov 2025 07:30');
    expect(dayWords('2027-01-01', LISBON, NOW)).toBe('Friday 1 January 2027');
  });

  it('fall on the day it was there', () => {
    const late = new Date('2026-11-24T23:30:00Z');
    expect(dateWords(late, 'Asia/Tokyo')).toBe('25 Nov 2026');
    expect(dateWords(late, 'Pacific/Honolulu')).toBe('24 Nov 2026');
  });

  // Summer time in the EU ends on the last Sunday of October at 01:00 UTC (Directive 2000/84/EC, article 3).
  it('follow the change of the clocks', () => {
    expect(timeWords(new Date('2026-10-25T00:59:00Z'), LISBON)).toBe('01:59');
    expect(timeWords(new Date('2026-10-25T01:00:00Z'), LISBON)).toBe('01:00');
  });

  it('of a calendar day have no zone and no clock', () => {
    expect(dateWords('2026-11-24', 'Pacific/Honolulu')).toBe('24 Nov 2026');
    expect(whenWords('2026-11-24', LISBON, NOW)).toBe('24 Nov');
    expect(() => timeWords('2026-11-24', LISBON)).toThrow(
      '2026-11-24 is a calendar day and has no clock time',
    );
  });

  it('are refused when they are none', () => {
    expect(() => dateWords(new Date('x'), LISBON)).toThrow(RangeError);
    expect(() => dateWords('24.11.2026', LISBON)).toThrow(RangeError);
    expect(() => dateWords(NOW, 'Europe/Nowhere')).toThrow(RangeError);
  });

  it('are written for machines in UTC, or as the day', () => {
    expect(machineTime(new Date('2026-11-24T07:30:00Z'))).toBe('2026-11-24T07:30:00Z');
    expect(machineTime('2026-11-24T07:30:00+01:00')).toBe('2026-11-24T06:30:00Z');
    expect(machineTime('2026-11-24')).toBe('2026-11-24');
  });
});

describe('how long ago', () => {
  it.each([
    ['2026-11-24T07:29:31Z', 'just now'],
    ['2026-11-24T07:18:00Z', '12 min ago'],
    ['2026-11-24T04:29:00Z', '3 h ago'],
    ['2026-11-23T07:30:00Z', 'yesterday 07:30'],
    ['2026-11-23T23:59:00Z', 'yesterday 23:59'],
    ['2026-11-12T23:00:00Z', '12 days ago'],
    ['2026-09-25T08:00:00Z', '60 days ago'],
    ['2026-09-24T08:00:00Z', '24 Sep 2026'],
    ['2026-11-24T07:30:20Z', 'in a moment'],
    ['2026-11-24T07:42:00Z', 'in 12 min'],
    ['2026-11-24T11:00:00Z', 'in 3 h'],
    ['2026-11-25T07:30:00Z', 'tomorrow 07:30'],
    ['2026-12-06T07:30:00Z', 'in 12 days'],
    ['2026-11-24', 'today'],
    ['2026-11-23', 'yesterday'],
    ['2026-11-25', 'tomorrow'],
  ])('%s is %s', (at, said) => {
    expect(agoWords(at, LISBON, NOW)).toBe(said);
  });

  it('just before midnight is minutes ago, not yesterday', () => {
    expect(agoWords('2026-11-23T23:50:00Z', LISBON, new Date('2026-11-24T00:10:00Z'))).toBe('20 min ago');
  });

  it('counts real hours over the change of the clocks', () => {
    // 25 Oct 2026: from 00:30 (summer) to 03:30 (winter) by the clock are 4 hours.
    expect(agoWords('2026-10-24T23:30:00Z', LISBON, new Date('2026-10-25T03:30:00Z'))).toBe('4 h ago');
  });
});

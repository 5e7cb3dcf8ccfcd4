import { describe, expect, test } from 'vitest';
import { backupState, backupWords, isDue, type Kept, outlived } from '../../src/backups/retention.rules.ts';

const day = 86_400_000;
const now = new Date('2026-11-28T09:00:00Z');
const ago = (days: number) => new Date(now.getTime() - days * day);
const nightly = (count: number): Kept[] =>
  Array.from({ length: count }, (_, n) => ({
    id: `day-${n}`,
    madeAt: new Date(Date.UTC(2026, 10, 28, 2) - n * day),
  }));

describe('which backups are kept', () => {
  test('of a year of nights: a week of days, a month of weeks, a year of months', () => {
    const backups = nightly(365);
    const gone = new Set(outlived(backups, 'UTC'));
    const stay = backups
      .filter(({ id }) => !gone.has(id))
      .map(({ madeAt }) => madeAt.toISOString().slice(0, 10));
    // 28 Nov 2026 is a Saturday of ISO week 48: the newest of weeks 47, 46 and 45 are their Sundays.
    expect(stay).toEqual([
      ...['2026-11-28', '2026-11-27', '2026-11-26', '2026-11-25', '2026-11-24', '2026-11-23', '2026-11-22'],
      ...['2026-11-15', '2026-11-08', '2026-10-31', '2026-09-30', '2026-08-31', '2026-07-31', '2026-06-30'],
      ...['2026-05-31', '2026-04-30', '2026-03-31', '2026-02-28', '2026-01-31', '2025-12-31'],
    ]);
  });

  test('nothing is lost by standing still for a year', () => {
    const old = [{ id: 'old', madeAt: ago(400) }];
    expect(outlived([...old, { id: 'new', madeAt: now }], 'UTC')).toEqual([]);
  });

  test('several of one day leave the newest', () => {
    const twice = [
      { id: 'morning', madeAt: new Date('2026-11-28T06:00:00Z') },
      { id: 'noon', madeAt: new Date('2026-11-28T12:00:00Z') },
    ];
    expect(outlived(twice, 'UTC')).toEqual(['morning']);
  });

  test('a day is a day of the farm', () => {
    const around = [
      { id: 'before midnight there', madeAt: new Date('2026-11-27T10:30:00Z') },
      { id: 'after midnight there', madeAt: new Date('2026-11-27T11:30:00Z') },
    ];
    expect(outlived(around, 'UTC')).toEqual(['before midnight there']);
    expect(outlived(around, 'Pacific/Auckland')).toEqual([]);
  });
});

describe('the nightly backup', () => {
  test.each([
    ['no backup yet', null, '2026-11-28T09:00:00Z', true],
    ['at night, a day after the last', '2026-11-27T02:10:00Z', '2026-11-28T02:09:00Z', true],
    ['at night, made an hour ago', '2026-11-28T02:10:00Z', '2026-11-28T03:09:00Z', false],
    ['by day, made last night', '2026-11-28T02:10:00Z', '2026-11-28T15:00:00Z', false],
    ['by day, the night was missed', '2026-11-27T02:10:00Z', '2026-11-28T09:00:00Z', true],
    ['the clock was set back', '2026-12-28T02:10:00Z', '2026-11-28T09:00:00Z', true],
  ])('%s', (_, last, at, due) => {
    const before = last === null ? null : { at: new Date(last), failed: false };
    expect(isDue(before, new Date(at), 'UTC')).toBe(due);
  });

  test('one that failed is tried again two hours later, and not before', () => {
    const last = { at: new Date('2026-11-28T09:00:00Z'), failed: true };
    expect(isDue(last, new Date('2026-11-28T10:30:00Z'), 'UTC')).toBe(false);
    expect(isDue(last, new Date('2026-11-28T11:00:00Z'), 'UTC')).toBe(true);
  });
});

describe('how the farm is backed up', () => {
  test.each([
    ['a new farm: nothing to say', { provenAt: null, began: ago(1), fault: null }, null],
    [
      'two days without one',
      { provenAt: null, began: ago(2), fault: null },
      { state: 'late', provenAt: null, fault: null },
    ],
    [
      'last night',
      { provenAt: ago(0.3), began: ago(90), fault: null },
      { state: 'proven', provenAt: ago(0.3) },
    ],
    [
      'failed for two days',
      { provenAt: ago(2.1), began: ago(90), fault: 'The disk is full.' },
      { state: 'late', provenAt: ago(2.1), fault: 'The disk is full.' },
    ],
  ])('%s', (_, given, said) => {
    expect(backupState(given, now)).toEqual(said);
  });
});

test('what is said of it names the time, and what the last try failed on', () => {
  const clock = { timeZone: 'UTC', now };
  expect(backupWords({ state: 'proven', provenAt: ago(0.25) }, clock)).toEqual({
    words: 'The last proven backup was made 6 h ago.',
    late: false,
  });
  expect(backupWords({ state: 'late', provenAt: null, fault: null }, clock)).toEqual({
    words: 'There is no proven backup yet.',
    late: true,
  });
  expect(backupWords({ state: 'late', provenAt: ago(3), fault: 'The disk is full' }, clock).words).toBe(
    'There is no proven backup since 25 Nov 09:00. The last try failed: The disk is full.',
  );
});

import { describe, expect, test } from 'vitest';
import { weekdayWords } from '../../src/platform/words/weekdays.ts';
import {
  occurrencesOf,
  type Schedule,
  stateOf,
  whyNotBegun,
} from '../../src/rounds/plans/occurrences.rules.ts';

const schedule = (input: Partial<Schedule> = {}): Schedule => ({
  startsAt: '07:30',
  weekdays: [1, 2, 3, 4, 5, 6, 7],
  plannedSince: new Date('2026-01-01T00:00:00Z'),
  pausedAt: null,
  changes: [],
  ...input,
});
const at = (text: string) => new Date(text);

describe('what a plan asked for', () => {
  test('follows the wall clock of the farm through the change of its clocks', () => {
    // Lisbon leaves summer time on Sunday 25 October 2026 at 01:00 UTC (IANA time zone database).
    const list = occurrencesOf(schedule(), 'Europe/Lisbon', at('2026-10-26T12:00:00Z'), 2);
    expect(list.map(({ day, dueAt }) => `${day} ${dueAt.toISOString()}`)).toEqual([
      '2026-10-24 2026-10-24T06:30:00.000Z',
      '2026-10-25 2026-10-25T07:30:00.000Z',
      '2026-10-26 2026-10-26T07:30:00.000Z',
    ]);
  });

  test('is told by the local day, not by the day in Greenwich', () => {
    const evening = at('2026-11-24T03:00:00Z');
    expect(occurrencesOf(schedule(), 'America/Los_Angeles', evening, 0)[0]?.day).toBe('2026-11-23');
    expect(occurrencesOf(schedule(), 'Pacific/Auckland', at('2026-11-23T12:00:00Z'), 0)[0]?.day).toBe(
      '2026-11-24',
    );
  });

  test('leaves out days that are not its own, days before the plan, and days of a pause', () => {
    const now = at('2026-11-24T12:00:00Z');
    const days = (input: Partial<Schedule>) =>
      occurrencesOf(schedule(input), 'Europe/Lisbon', now, 7).map(({ day }) => day.slice(8));
    expect(days({ weekdays: [1, 4] })).toEqual(['19', '23']);
    expect(days({ plannedSince: at('2026-11-22T12:00:00Z') })).toEqual(['23', '24']);
    expect(days({ pausedAt: at('2026-11-19T12:00:00Z') })).toEqual(['17', '18', '19']);
  });

  test('is another way on a day that was changed: at its own time, not at all, or besides', () => {
    const change = (day: string, input: object) => ({
      day,
      cancelled: false,
      startsAt: null,
      note: '',
      ...input,
    });
    const changed = schedule({
      weekdays: [1, 2, 3],
      changes: [
        change('2026-11-23', { cancelled: true }),
        change('2026-11-24', { startsAt: '16:00' }),
        change('2026-11-22', { startsAt: '09:00' }),
      ],
    });
    const list = occurrencesOf(changed, 'Europe/Lisbon', at('2026-11-24T12:00:00Z'), 3);
    expect(list.map(({ dueAt }) => dueAt.toISOString().slice(0, 16))).toEqual([
      '2026-11-22T09:00',
      '2026-11-24T16:00',
    ]);
    expect(whyNotBegun(changed, '2026-11-23', 'Europe/Lisbon', at('2026-11-23T12:00:00Z'))).toContain(
      'not walked',
    );
  });

  test('at night is there before midnight, and once on nights that change the clocks', () => {
    // In Lisbon 01:30 came twice on 25 October 2026 and never on 28 March 2027 (IANA time zone database).
    const night = schedule({ startsAt: '01:30' });
    const due = (now: string) =>
      occurrencesOf(night, 'Europe/Lisbon', at(now), 0).map(({ dueAt }) => dueAt.toISOString());
    expect(due('2026-10-24T21:00:00Z').at(-1)).toBe('2026-10-25T00:30:00.000Z');
    expect(due('2026-10-25T01:00:00Z')).toEqual(['2026-10-25T00:30:00.000Z']);
    expect(due('2027-03-28T00:10:00Z')).toEqual(['2027-03-28T01:30:00.000Z']);
    expect(due('2026-11-24T12:00:00Z')).toHaveLength(1);
    expect(whyNotBegun(night, '2026-11-25', 'Europe/Lisbon', at('2026-11-24T23:50:00Z'))).toBeNull();
    expect(whyNotBegun(night, '2026-11-25', 'Europe/Lisbon', at('2026-11-24T12:00:00Z'))).toContain(
      'another day',
    );
  });

  test('holds today on a plan made this morning after its time', () => {
    const made = schedule({ plannedSince: at('2026-11-24T09:00:00Z') });
    expect(occurrencesOf(made, 'Europe/Lisbon', at('2026-11-24T10:00:00Z'), 7)).toHaveLength(1);
  });
});

describe('how a round stands', () => {
  const evening = { day: '2026-11-24', dueAt: at('2026-11-24T23:30:00Z') };
  const morning = { day: '2026-11-24', dueAt: at('2026-11-24T07:30:00Z') };
  const stand = (occurrence: typeof evening, now: string, walked: [string, string | null] | null = null) =>
    stateOf(
      occurrence,
      walked === null
        ? null
        : { startedAt: at(walked[0]), finishedAt: walked[1] === null ? null : at(walked[1]) },
      'Europe/Lisbon',
      at(now),
    );

  test.each([
    [morning, '2026-11-24T06:00:00Z', null, 'later'],
    [morning, '2026-11-24T07:30:00Z', null, 'due'],
    [morning, '2026-11-24T23:59:00Z', null, 'due'],
    [morning, '2026-11-25T00:00:00Z', null, 'missed'],
    [evening, '2026-11-25T00:10:00Z', null, 'due'],
    [evening, '2026-11-25T05:29:00Z', null, 'due'],
    [evening, '2026-11-25T05:30:00Z', null, 'missed'],
    [evening, '2026-11-25T00:10:00Z', ['2026-11-24T23:40:00Z', null], 'running'],
    [evening, '2026-11-25T08:00:00Z', ['2026-11-24T23:40:00Z', null], 'unfinished'],
    [evening, '2026-11-25T08:00:00Z', ['2026-11-24T23:40:00Z', '2026-11-25T00:20:00Z'], 'finished'],
    [morning, '2026-11-24T20:00:00Z', ['2026-11-24T08:00:00Z', null], 'running'],
  ] as const)('%o at %s, walked %o: %s', (occurrence, now, walked, state) => {
    expect(stand(occurrence, now, walked as [string, string | null] | null)).toBe(state);
  });

  test('midnight is the midnight of the farm', () => {
    const due = { day: '2026-11-24', dueAt: at('2026-11-24T17:00:00Z') };
    expect(stateOf(due, null, 'Pacific/Auckland', at('2026-11-24T20:00:00Z'))).toBe('due');
    expect(stateOf(due, null, 'America/Los_Angeles', at('2026-11-25T07:59:00Z'))).toBe('due');
    expect(stateOf(due, null, 'America/Los_Angeles', at('2026-11-25T08:00:00Z'))).toBe('missed');
  });

  test('yesterday cannot be walked today, nor tomorrow, nor what is paused', () => {
    const why = (day: string, input: Partial<Schedule> = {}) =>
      whyNotBegun(schedule(input), day, 'Europe/Lisbon', at('2026-11-24T12:00:00Z'));
    expect(why('2026-11-24')).toBeNull();
    expect(why('2026-11-23')).toContain('over');
    expect(why('2026-11-25')).toContain('another day');
    expect(why('2026-11-24', { pausedAt: at('2026-11-20T00:00:00Z') })).toContain('paused');
  });
});

test('weekdays are said as people say them', () => {
  expect(weekdayWords([1, 2, 3, 4, 5, 6, 7])).toBe('every day');
  expect(weekdayWords([5, 1, 2, 3, 4])).toBe('Monday to Friday');
  expect(weekdayWords([4, 1])).toBe('Monday, Thursday');
});

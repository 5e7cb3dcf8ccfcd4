import { describe, expect, test } from 'vitest';
import type { DigestContent } from '../../src/digest/content.ts';
import type { AlertNow } from '../../src/digest/facts.ts';
import { mattersOf } from '../../src/digest/text.ts';

const madeAt = new Date('2026-11-24T06:00:00Z');
const now = new Date('2026-11-24T09:00:00Z');
const alerts: DigestContent['alerts'] = [
  {
    ...{ id: 'a', severity: 'today', title: 'North: nitrate is rising', numbers: '', why: '' },
    ...{ firstStep: '', explains: 0 },
  },
];
const doneOf = (since: Partial<AlertNow>) =>
  mattersOf(
    { content: { alerts } as DigestContent, madeAt },
    {
      timeZone: 'UTC',
      now,
      since: [
        {
          id: 'a',
          severity: 'today',
          clearedAt: null,
          putOffUntil: null,
          answer: null,
          putOffBy: null,
          ...since,
        },
      ],
    },
  ).done.map(({ done }) => done);

test('a matter that is more urgent by now is marked so, and stands first', () => {
  const two = [
    ...alerts,
    { ...alerts[0], id: 'b', title: 'North: alkalinity falls' },
  ] as DigestContent['alerts'];
  const still = { clearedAt: null, putOffUntil: null, answer: null, putOffBy: null };
  const { open, sinceWords } = mattersOf(
    { content: { alerts: two } as DigestContent, madeAt },
    {
      timeZone: 'UTC',
      now,
      since: [
        { id: 'a', severity: 'today', ...still },
        { id: 'b', severity: 'now', ...still },
      ],
    },
  );
  expect(open.map(({ id, word, worse }) => [id, word, worse])).toEqual([
    ['b', 'Act now', 'Act now since this was made'],
    ['a', 'Today', ''],
  ]);
  expect(sinceWords).toBe('Since then 1 became more urgent.');
});

describe('a matter of the digest that is over', () => {
  test('is said as cleared, and not as the deed of whoever put it off once', () => {
    const clearedAt = new Date('2026-11-24T07:40:00Z');
    expect(doneOf({ clearedAt, putOffBy: 'Ravi Sandomil' })).toEqual(['cleared 07:40']);
    expect(doneOf({ clearedAt })).toEqual(['cleared 07:40']);
  });

  test('is said as put off by whoever did', () => {
    const putOffUntil = new Date('2026-11-27T06:00:00Z');
    expect(doneOf({ putOffUntil, putOffBy: 'Ravi Sandomil' })).toEqual([
      'Ravi Sandomil put off until 27 Nov 06:00',
    ]);
  });

  test('is not called done while nothing has confirmed what somebody did about it', () => {
    const answer = {
      ...{
        what: 'kit put away',
        by: 'Nela Orvalho',
        at: '2026-11-24T07:40:00Z',
        noted: true,
        overdue: false,
      },
      ...{ confirm: 'three tests beside another kit', dueAt: '2026-11-26T07:40:00Z', confirmedAt: null },
    };
    const still = { clearedAt: null, putOffUntil: null, putOffBy: null };
    const { done, sinceWords } = mattersOf(
      { content: { alerts } as DigestContent, madeAt },
      { timeZone: 'UTC', now, since: [{ id: 'a', severity: 'today', ...still, answer }] },
    );
    expect(done.map(({ until }) => until)).toEqual(['three tests beside another kit']);
    expect(sinceWords).toBe('Since then 1 is acted on and not confirmed.');
  });
});

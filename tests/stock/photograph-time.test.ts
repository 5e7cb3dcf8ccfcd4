import { expect, test } from 'vitest';
import { timeOfPhotograph } from '../../src/stock/rack-photographs/taking.ts';

const now = new Date('2026-11-24T08:00:00Z');
const at = (local: string, offset: string | null = null) => ({ takenAt: { local, offset }, focal35: null });
const silent = { takenAt: null, focal35: null };
const fileDate = new Date('2026-07-12T14:05:00Z');

// Berlin keeps summer time until 25 October 2026 (IANA time zone database).
test.each([
  ['the camera before the file', at('2026-07-01T09:00:00'), fileDate, '2026-07-01T07:00:00.000Z'],
  ['the camera’s own offset', at('2026-07-01T09:00:00', '+00:00'), fileDate, '2026-07-01T09:00:00.000Z'],
  ['the file where the camera is silent', silent, fileDate, '2026-07-12T14:05:00.000Z'],
  [
    'the file where the camera’s clock was never set',
    at('1970-01-01T00:00:00'),
    fileDate,
    '2026-07-12T14:05:00.000Z',
  ],
  [
    'the file where the camera writes no day',
    at('0000-00-00T00:00:00'),
    fileDate,
    '2026-07-12T14:05:00.000Z',
  ],
  ['the file where the camera is ahead', at('2031-01-01T00:00:00'), fileDate, '2026-07-12T14:05:00.000Z'],
  ['now where neither says', silent, null, '2026-11-24T08:00:00.000Z'],
  ['now where the file’s date is ahead', silent, new Date('2027-01-01'), '2026-11-24T08:00:00.000Z'],
  [
    'now where the file’s date is the beginning of all clocks',
    silent,
    new Date(0),
    '2026-11-24T08:00:00.000Z',
  ],
])('a photograph’s time is told by %s', (what, notes, file, expected) => {
  const { at, by } = timeOfPhotograph(notes, file, 'Europe/Berlin', now);
  expect(at.toISOString()).toBe(expected);
  expect(what.startsWith(`${by === 'now' ? 'now' : `the ${by}`}`)).toBe(true);
});

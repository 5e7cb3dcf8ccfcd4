import { describe, expect, test } from 'vitest';
import type { Trouble } from '../../src/browser/round/network.ts';
import { typed } from '../../src/browser/round/number-pad.ts';
import { isOutside, plainNumber } from '../../src/browser/round/reading-check.ts';
import { sendingWords } from '../../src/browser/round/sending-words.ts';
import { countdown } from '../../src/browser/round/timer.ts';
import type { QueuedEntry, QueueState } from '../../src/browser/store/types.ts';

describe('the timer of the pumps', () => {
  const due = new Date('2026-11-24T08:30:00Z');
  test.each([
    ['2026-11-24T08:10:00Z', '20:00', false],
    ['2026-11-24T08:29:57Z', '0:03', false],
    ['2026-11-24T07:25:00Z', '1:05:00', false],
    ['2026-11-24T08:30:00Z', '0:00', false],
    ['2026-11-24T08:30:09Z', '9 s late', true],
    ['2026-11-24T08:33:40Z', '3 min 40 s late', true],
    ['2026-11-24T09:35:40Z', '1 h 05 min late', true],
  ])('at %s shows %s', (now, text, late) => {
    expect(countdown(due, new Date(now))).toEqual({ text, late });
  });
});

test('the number pad writes one point at most, and the sign for "below" in front', () => {
  const keys = (...pressed: string[]) => pressed.reduce(typed, '');
  expect(keys('8', '.', '3', '.')).toBe('8.3');
  expect(keys('0', '.', '0', '2', '<')).toBe('<0.02');
  expect(keys('<', '5', '<', 'back', '7')).toBe('7');
  expect(keys('2', '0', '>')).toBe('>20');
  expect(keys('<', '2', '0', '>')).toBe('>20');
});

test('a number is asked about where it lies outside the range the page knows', () => {
  expect(plainNumber(' 8,4 ')).toBe(8.4);
  expect(plainNumber('ND')).toBeNull();
  expect(isOutside(8.4, 5, 13)).toBe(false);
  expect(isOutside(84, 5, 13)).toBe(true);
  expect(isOutside(84, null, null)).toBe(false);
});

describe('what the foot of the round says', () => {
  const since = new Date(2026, 10, 24, 8, 21);
  const kept = (...standings: QueueState[]): QueuedEntry[] =>
    standings.map((standing, i) => {
      const entry = { id: String(i), kind: 'rack_well', at: '', label: '', notedBy: '' };
      return { id: String(i), roundId: 'r', standing, tried: false, why: '', entry };
    });
  const say = (all: QueuedEntry[], trouble: Trouble | null = null, state: object = {}) => {
    const usual = { lasting: true, full: false, scarce: false, photos: [], roundPath: '/rounds/r' };
    const { strong, rest, link } = sendingWords(
      all,
      { trouble, since: trouble === null ? null : since },
      { ...usual, ...state },
    );
    return [strong, rest, link?.text ?? ''].filter((part) => part !== '').join(' ');
  };

  test('nothing where all is sent', () => {
    expect(say(kept('taken'))).toBe('');
  });

  test('photos beside notes, photos not taken, and that room is scarce', () => {
    const photos = [{ standing: 'waiting' }, { standing: 'refused' }];
    expect(say(kept('waiting'), null, { photos })).toBe('1 photo not taken. Put right');
    expect(say(kept('waiting'), 'away', { photos })).toContain('1 and 1 photo not sent yet.');
    expect(say(kept('taken'), null, { scarce: true })).toContain('nearly full');
  });

  test('how many wait, since when there is no network, and that they are kept', () => {
    expect(say(kept('open', 'waiting', 'waiting'), 'away')).toBe(
      '3 not sent yet. No network since 08:21; kept on this tablet.',
    );
    expect(say(kept('waiting', 'refused'), 'away')).toContain('kept on this tablet. 1 note not taken');
    expect(say([], 'away')).toBe('No network since 08:21; you can go on.');
  });

  test('that nothing is lost where the sign-in ran out', () => {
    expect(say(kept('waiting'), 'signed out')).toBe(
      '1 not sent yet. You are signed out. Sign in again; nothing is lost. Sign in',
    );
  });

  test('what wants putting right', () => {
    expect(say(kept('refused', 'taken'))).toBe('1 note not taken. Put right');
  });

  test('that the browser keeps nothing, or is full', () => {
    expect(say(kept('waiting'), 'away', { lasting: false })).toContain('leave this page open');
    expect(say(kept('waiting'), null, { full: true })).toContain('The last tap was not kept');
  });
});

import { describe, expect, test } from 'vitest';
import { choreOf, choresDone, choresOf } from '../../src/rounds/round/chores.rules.ts';
import type { SavedEntry } from '../../src/rounds/round/saved-entries.ts';

const north = '01935a3e-0000-7000-8000-000000000001';
const south = '01935a3e-0000-7000-8000-000000000002';

test('a plan has each of its ticked steps in each system, then its own chores', () => {
  const chores = choresOf({ steps: ['look', 'test', 'clean', 'check'], chores: ['Lids shut'] }, [
    north,
    south,
  ]);
  expect(chores.map(({ key, systemId, title }) => [key, systemId, title])).toEqual([
    [`clean:${north}`, north, 'Cleaned'],
    [`check:${north}`, north, 'Equipment checked'],
    [`clean:${south}`, south, 'Cleaned'],
    [`check:${south}`, south, 'Equipment checked'],
    ['own:Lids shut', null, 'Lids shut'],
  ]);
});

describe('the key of a chore', () => {
  test.each<[string, { systemId: string | null; title: string } | null]>([
    [`dose:${north}`, { systemId: north, title: 'Doses given' }],
    [`CLEAN:${north}`, { systemId: north, title: 'Cleaned' }],
    [`look:${north}`, null],
    ['clean:north', null],
    [`clean:${north}0`, null],
    ['own: Lids shut ', { systemId: null, title: 'Lids shut' }],
    ['own:no longer planned', { systemId: null, title: 'no longer planned' }],
    ['own:  ', null],
    ['own', null],
    ['', null],
  ])('"%s" stands for %o', (key, expected) => {
    expect(choreOf(key)).toEqual(expected === null ? null : { key, ...expected });
  });
});

test('a chore ticked off twice was done when it was ticked off first', () => {
  const tick = (key: string, minute: number, who: string): SavedEntry => ({
    id: String(minute),
    kind: 'chore',
    rackId: null,
    lotId: null,
    systemId: null,
    at: new Date(Date.UTC(2026, 10, 24, 8, minute)),
    who,
    detail: { key, ...(minute === 1 ? { note: 'hums' } : {}) },
  });
  const chores = choresOf({ steps: ['check'], chores: ['Lids shut'] }, [north]);
  const done = choresDone(chores, [tick(`check:${north}`, 1, 'Nor'), tick(`check:${north}`, 2, 'Ines')]);
  expect(done.map((chore) => chore.done)).toEqual([
    { at: new Date('2026-11-24T08:01:00Z'), who: 'Nor', note: 'hums', wrong: false },
    null,
  ]);
});

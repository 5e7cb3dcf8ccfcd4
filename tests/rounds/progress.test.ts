import { describe, expect, test } from 'vitest';
import {
  navigationFrom,
  progressOf,
  rackStates,
  rackTimes,
  workByPerson,
} from '../../src/rounds/round/progress.rules.ts';
import type { SavedEntry } from '../../src/rounds/round/saved-entries.ts';

const at = (minute: number) => new Date(Date.UTC(2026, 10, 24, 7, minute));
const entry = (kind: string, more: Partial<SavedEntry> = {}): SavedEntry => ({
  id: 'entry',
  kind,
  rackId: 'window',
  lotId: null,
  systemId: null,
  at: at(0),
  who: 'Nor',
  detail: {},
  ...more,
});
const looked = (more: Partial<SavedEntry> = {}) => entry('rack_well', more);
const paling = (lotId: string, more: Partial<SavedEntry> = {}) => entry('condition', { lotId, ...more });
const leftOut = (more: Partial<SavedEntry> = {}) =>
  entry('skipped', { detail: { note: 'wet floor' }, ...more });

describe('a rack on a round', () => {
  test.each<[string, SavedEntry[], object | undefined]>([
    ['is not in the list before anything is entered', [], undefined],
    ['is begun once a lot has an entry', [paling('A1')], { state: 'begun', noted: 1 }],
    ['counts a lot with two entries once', [paling('A1'), paling('A1')], { state: 'begun', noted: 1 }],
    ['is looked at after one tap', [looked()], { state: 'looked', noted: 0 }],
    [
      'is looked at whatever is entered later',
      [looked(), paling('A1', { at: at(5) })],
      { state: 'looked', noted: 1, at: at(0) },
    ],
    ['is left out with the reason', [leftOut()], { state: 'left_out', why: 'wet floor' }],
    [
      'that was left out is looked at once somebody does',
      [leftOut(), looked()],
      { state: 'looked', why: '' },
    ],
    ['that was left out is begun once a lot has an entry', [leftOut(), paling('A1')], { state: 'begun' }],
    ['is untouched by an entry that was refused', [entry('refused')], undefined],
    ['is untouched by an entry about no rack', [entry('feeding', { rackId: null })], undefined],
  ])('%s', (_, entries, expected) => {
    const state = rackStates(entries).get('window');
    if (expected === undefined) expect(state).toBeUndefined();
    else expect(state).toMatchObject(expected);
  });

  test('counts as progress once it was looked at; one left out does not', () => {
    const states = rackStates([looked(), leftOut({ rackId: 'wall' }), paling('C1', { rackId: 'corner' })]);
    expect(progressOf(['window', 'wall', 'corner', 'door'], states)).toEqual({ looked: 1, total: 4 });
  });
});

describe('the way from a rack', () => {
  const racks = ['window', 'wall', 'corner'];
  test.each<[string, string | null, SavedEntry[], object]>([
    ['from the start leads to the first', null, [], { before: null, after: 'window', next: 'window' }],
    ['leads to the next one', 'window', [], { before: null, after: 'wall', next: 'wall' }],
    ['passes racks that were looked at', 'window', [looked({ rackId: 'wall' })], { next: 'corner' }],
    ['passes racks that were left out', 'window', [leftOut({ rackId: 'wall' })], { next: 'corner' }],
    ['stops at one that is only begun', 'window', [paling('B1', { rackId: 'wall' })], { next: 'wall' }],
    ['goes back to what was passed over', 'corner', [], { before: 'wall', after: null, next: 'window' }],
    [
      'ends where nothing is left but the rack itself',
      'window',
      [looked({ rackId: 'wall' }), looked({ rackId: 'corner' })],
      { next: null },
    ],
  ])('%s', (_, from, entries, expected) => {
    expect(navigationFrom(racks, from, rackStates(entries))).toMatchObject(expected);
  });
});

describe('how long a rack took', () => {
  const times = (entries: SavedEntry[]) =>
    rackTimes(entries, at(0)).map(({ rackId, from, to }) => [rackId, from.getMinutes(), to.getMinutes()]);

  test.each<[string, SavedEntry[], unknown[]]>([
    ['counts from the start of the round for the first', [looked({ at: at(4) })], [['window', 0, 4]]],
    [
      'counts from the rack before',
      [looked({ at: at(4) }), looked({ rackId: 'wall', at: at(9) })],
      [
        ['window', 0, 4],
        ['wall', 4, 9],
      ],
    ],
    [
      'leaves out what was done elsewhere in between',
      [
        looked({ at: at(4) }),
        entry('feeding', { rackId: null, at: at(7) }),
        looked({ rackId: 'wall', at: at(9) }),
      ],
      [
        ['window', 0, 4],
        ['wall', 7, 9],
      ],
    ],
    [
      'counts what was entered of its lots in',
      [
        looked({ at: at(4) }),
        paling('B1', { rackId: 'wall', at: at(7) }),
        looked({ rackId: 'wall', at: at(9) }),
      ],
      [
        ['window', 0, 4],
        ['wall', 4, 9],
      ],
    ],
    [
      'counts a rack looked at twice once',
      [looked({ at: at(4) }), looked({ at: at(9) })],
      [['window', 0, 4]],
    ],
    [
      'is counted for each person alone',
      [looked({ at: at(4) }), looked({ rackId: 'wall', who: 'Ines', at: at(9) })],
      [
        ['window', 0, 4],
        ['wall', 0, 9],
      ],
    ],
  ])('%s', (_, entries, expected) => {
    expect(times(entries)).toEqual(expected);
  });
});

test('who did what counts racks once, leaves out refused entries, and lists whoever did most first', () => {
  const shares = workByPerson([
    entry('feeding', { who: 'Ines', rackId: null }),
    entry('reading', { who: 'Ines', rackId: null }),
    looked(),
    looked(),
    paling('A1'),
    entry('count', { lotId: 'A2' }),
    entry('chore', { rackId: null }),
    entry('task', { rackId: null }),
    entry('refused'),
    entry('finished', { who: 'Ines', rackId: null }),
    entry('reading', { who: null, rackId: null }),
  ]);
  expect(shares).toEqual([
    { who: 'Nor', racks: 1, noted: 2, fed: 0, tested: 0, tasks: 2 },
    { who: 'Ines', racks: 0, noted: 0, fed: 1, tested: 1, tasks: 0 },
    { who: 'somebody', racks: 0, noted: 0, fed: 0, tested: 1, tasks: 0 },
  ]);
});

import { describe, expect, test } from 'vitest';
import { refusedEntries, refusedEntryWords } from '../../src/rounds/round/refused-entries.rules.ts';
import type { SavedEntry } from '../../src/rounds/round/saved-entries.ts';

describe('what was sent, in words', () => {
  test.each<[Record<string, unknown>, string]>([
    [
      { kind: 'condition', label: 'R46-TKR, B7', state: 'bleached', grade: '2', note: 'tips' },
      'R46-TKR, B7: bleached, about a third; tips',
    ],
    [{ kind: 'condition', state: 'well' }, 'well again'],
    [{ kind: 'condition', state: 'sad' }, 'sad'],
    [{ kind: 'condition', state: 'lost', pieces: 2 }, 'lost; 2 pieces'],
    [{ kind: 'count', label: 'R46-TKR', pieces: '7' }, 'R46-TKR: 7 pieces'],
    [{ kind: 'rack_well', label: 'Window rack' }, 'Window rack: all well'],
    [{ kind: 'rack_well', label: 'Wall rack', asBefore: 'x' }, 'Wall rack: all as before'],
    [{ kind: 'take_back', label: 'R46-TKR, B7' }, 'R46-TKR, B7: taken back'],
    [{ kind: 'feeding', label: 'Shallow', food: 'Fine food' }, 'Shallow: fed Fine food'],
    [{ kind: 'feeding' }, 'fed'],
    [{ kind: 'pumps_on' }, 'pumps on again'],
    [{ kind: 'task', label: 'Change 180 L' }, 'Change 180 L: ticked off as done'],
    [{ kind: 'reading', label: 'Alkalinity', text: '83', unit: 'dKH' }, 'Alkalinity: 83 dKH'],
    [{ kind: 'response', response: 'Taken slowly' }, 'Taken slowly'],
    [{ kind: 'chore', label: 'Cleaned', note: 'hums' }, 'Cleaned: ticked off; hums'],
    [{ kind: 'skipped', label: 'Wall rack', note: 'wet floor' }, 'Wall rack: left out; wet floor'],
    [{ kind: 'finished' }, 'round finished'],
    [{ kind: 'song' }, 'something unreadable'],
    [{ kind: 'count', pieces: ['7'], label: { name: 'R46' } }, 'something unreadable'],
    [{}, 'something unreadable'],
  ])('%o reads "%s"', (sent, words) => {
    expect(refusedEntryWords(sent)).toBe(words);
  });
});

describe('entries that wait to be put right', () => {
  const entry = (kind: string, detail: SavedEntry['detail']): SavedEntry => ({
    id: kind,
    kind,
    rackId: null,
    lotId: null,
    systemId: null,
    at: new Date('2026-11-24T08:00:00Z'),
    who: 'Nor',
    detail,
  });
  const sent = { kind: 'rack_well' };

  test('are those refused and not mended; the words of the refusal come along', () => {
    const waiting = refusedEntries([
      entry('rack_well', {}),
      entry('refused', { sent, why: 'No such rack.' }),
      entry('refused', { sent, why: 'Mended.', mended: { at: '2026-11-24T09:00:00Z' } }),
    ]);
    expect(waiting).toMatchObject([{ what: 'all well', why: 'No such rack.', asks: false, who: 'Nor' }]);
  });

  test('say whether a person’s word is enough to take them', () => {
    expect(refusedEntries([entry('refused', { sent, asks: true })])).toMatchObject([{ asks: true, why: '' }]);
  });
});

import { describe, expect, test } from 'vitest';
import { lotRow } from '../../src/rounds/round/lot-rows.rules.ts';
import type { RackLot } from '../../src/rounds/round/rack-lots.ts';

const now = new Date('2026-11-24T09:00:00Z');
const began = new Date('2026-11-24T08:00:00Z');
const days = (n: number) => new Date(now.getTime() - n * 86_400_000);
const lot = (more: Partial<RackLot> = {}): RackLot => ({
  id: '1',
  rackId: 'r',
  code: 'R46-TKR',
  ownCode: '',
  kind: 'Favites',
  pieces: 5,
  cells: [{ row: 2, column: 7 }],
  state: null,
  grade: null,
  seenAt: null,
  compared: null,
  before: null,
  growthForm: null,
  photo: null,
  photoThen: null,
  wantsPhoto: false,
  cutAt: null,
  severity: null,
  alert: null,
  ...more,
});
const row = (more: Partial<RackLot>) => lotRow(lot(more), { startedAt: began, now }, () => 'yesterday 08:12');

describe('what a walker sees of a lot', () => {
  test('that was never noted: its slot, code and kind, and nothing else', () => {
    expect(row({})).toMatchObject({ slots: 'B7', state: null, hints: [], open: false });
  });

  test('that was not well before: how, how much and when, still to be answered', () => {
    const seen = row({ state: 'paling', grade: 2, seenAt: days(1) });
    expect(seen).toMatchObject({
      state: null,
      hints: ['paling, about a third, yesterday 08:12'],
      open: true,
    });
  });

  test('that was well before: nothing', () => {
    expect(row({ state: 'well', seenAt: days(1) })).toMatchObject({ state: null, hints: [], open: false });
  });

  test('noted on this round: its state, with its ink', () => {
    const seen = row({ state: 'bleached', grade: 3, seenAt: new Date('2026-11-24T08:30:00Z') });
    expect(seen).toMatchObject({ state: 'bleached, most of it', ink: 'now', hints: [], open: false });
  });

  test('that heals from a cut: the day of healing', () => {
    expect(row({ cutAt: days(6.4) }).hints).toEqual(['healing, day 6']);
    expect(row({ cutAt: days(0.2) }).hints).toEqual(['cut today']);
  });

  test('with an alert: its words without what the row says itself', () => {
    expect(row({ alert: 'R46-TKR on N1, B7: more light than its kind bears' }).hints).toEqual([
      'more light than its kind bears',
    ]);
    const seen = { state: 'paling', grade: 1, seenAt: days(1) } as const;
    expect(row({ ...seen, alert: 'R46-TKR on N1, B7: paling, a little under too much light' }).hints).toEqual(
      ['paling, a little, yesterday 08:12', 'under too much light'],
    );
  });

  test('over several slots: all of them', () => {
    const cells = [1, 2, 3].map((column) => ({ row: 1, column }));
    expect(row({ cells }).slots.replaceAll('\u200B', '')).toBe('A1–A3');
  });

  test('names the slots that pieces can leave, and none of a colony that covers several', () => {
    const cells = [1, 2, 3].map((column) => ({ row: 1, column }));
    expect(row({ cells, pieces: 3 }).slotNames).toBe('A1 A2 A3');
    expect(row({ cells, pieces: 1 }).slotNames).toBe('');
    expect(row({ pieces: 5 }).slotNames).toBe('');
  });
});

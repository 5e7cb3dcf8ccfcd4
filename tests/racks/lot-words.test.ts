import { describe, expect, test } from 'vitest';
import { openAlertWords, shortAge, shortConditionWords } from '../../src/racks/drawing/lot-words.rules.ts';
import type { SlotOccupant } from '../../src/stock/places/occupancy.ts';

const now = new Date('2026-11-24T12:00:00Z');
const daysAgo = (days: number) => new Date(now.getTime() - days * 86_400_000);

describe('words on the label of a lot', () => {
  test.each([
    [-1, '0 d'],
    [0.9, '0 d'],
    [27.9, '27 d'],
    [28, '4 wk'],
    [181, '26 wk'],
    [182, '6 mo'],
    [730, '24 mo'],
  ])('%d days are %s', (days, words) => {
    expect(shortAge(daysAgo(days), now)).toBe(words);
  });

  test.each([
    ['well', null, 'well'],
    ['paling', 2, 'paling, a third'],
    ['polyps_shut', 1, 'polyps shut, a little'],
    ['other', 3, 'noted, most of it'],
  ] as const)('the condition %s, grade %s, is "%s"', (state, grade, words) => {
    expect(shortConditionWords({ state, grade })).toBe(words);
  });

  const lot = (rule: string | null, look: SlotOccupant['look'] = null): SlotOccupant => ({
    id: 'l',
    code: 'R46-TKR',
    ownCode: '',
    kind: 'Brain coral',
    pieces: 1,
    alert: rule === null ? null : { id: 'a', rule, severity: 'today', title: '' },
    look,
    inSlotSince: now,
    onFarmSince: now,
  });
  const pale = { state: 'paling', grade: 1, at: now } as const;
  test.each([
    ['nothing without an open alert', lot(null, pale), ''],
    ['a shorter word where there is one', lot('too-much-light'), 'too bright'],
    ['the name of the rule where there is none', lot('silt-risk'), 'silt risk'],
    ['the condition where that is the alert', lot('condition-noted', pale), 'paling, a little'],
  ])('an alert is %s', (_, standing, words) => {
    expect(openAlertWords(standing)).toBe(words);
  });
});

import { describe, expect, test } from 'vitest';
import {
  acclimationHold,
  type LotStanding,
  type StepEffect,
  WELL_DAYS,
} from '../../src/stock/acclimations/hold.rules.ts';

/** A lot used to 10 mol/(m2 d) that gets 12 and so comes nearer to them day by day. */
const lot = (change: Partial<LotStanding> = {}): LotStanding => ({
  code: 'R46-TKR',
  pieces: 6,
  used: 10,
  isUsedKnown: true,
  light: 12,
  adaptationDays: 10,
  wellDays: 0,
  parCeiling: 300,
  ...change,
});

/** A move of that lot to a free place of 11 mol/(m2 d), 1.1 times what it is used to, where 1.15 is allowed. */
const effect = (change: Partial<StepEffect> = {}): StepEffect => ({
  pauseReason: null,
  maxStepRatio: 1.15,
  raisesRecovery: false,
  move: { hasPlace: true, takenBy: null, light: { dli: 11, par: 250 } },
  lots: [{ lot: lot(), dli: 11, par: 250 }],
  ...change,
});

const takenBy = (goesToday: boolean): StepEffect['move'] => ({
  hasPlace: true,
  takenBy: { code: 'R46-XYZ', goesToday },
  light: { dli: 11, par: 250 },
});
const going = (dli: number | null, par: number | null, change: Partial<LotStanding> = {}) => [
  { lot: lot(change), dli, par },
];

describe('a step of an acclimation', () => {
  test.for<[string, Partial<StepEffect>, string | null, string]>([
    ['may be done within what the lot bears', {}, null, ''],
    ['waits while the plan is paused, with the reason', { pauseReason: 'it paled' }, 'resume', 'it paled'],
    [
      'of a lot without pieces is left out',
      { lots: going(11, 250, { pieces: 0 }) },
      'leave-out',
      'No pieces',
    ],
    [
      'without a place has one chosen',
      { move: { hasPlace: false, takenBy: null, light: null } },
      'choose',
      'No free place',
    ],
    ['waits for a lot of the plan that goes first', { move: takenBy(true) }, 'wait', 'Do that one first'],
    [
      'has another place chosen where a stranger stands',
      { move: takenBy(false) },
      'choose',
      'R46-XYZ is there',
    ],
    ['to unlit slots is not judged by light', { lots: going(null, null) }, null, ''],
    ['of a lot whose habit is unknown is not judged', { lots: going(30, 250, { used: null }) }, null, ''],
    ['at the ceiling of its kind may be done', { lots: going(11, 300) }, null, ''],
    ['past the ceiling by more than a meter is off', { lots: going(11, 307) }, 'choose', 'above 300'],
    ['of a kind without a ceiling has none', { lots: going(11, 900, { parCeiling: null }) }, null, ''],
    ['just within the step and its slack may be done', { lots: going(11.7, 250) }, null, ''],
    [
      'too large now waits until it is bearable',
      { lots: going(12, 250) },
      'wait',
      '1.2 times what it is used to',
    ],
    [
      'too large for ever has a dimmer place chosen',
      { lots: going(20, 250) },
      'choose',
      'put a step between, or choose a dimmer place',
    ],
    ['downwards is never too large', { lots: going(2, 50) }, null, ''],
    [
      'raises a recovering lot only after days that found it well',
      { raisesRecovery: true, lots: going(11, 250, { wellDays: WELL_DAYS - 1 }) },
      'look',
      'found well on 2 days; so far on 1',
    ],
    [
      'raises it once it was found well on enough days',
      { raisesRecovery: true, lots: going(11, 250, { wellDays: WELL_DAYS }) },
      null,
      '',
    ],
  ])('%s', ([, change, todo, words]) => {
    const hold = acclimationHold(effect(change));
    expect(hold?.todo ?? null).toBe(todo);
    if (hold !== null) expect(hold.words).toContain(words);
  });

  test('of lamps is held by the lot that it puts furthest beyond its step', () => {
    const lots = [
      ...going(12, 250, { code: 'first' }),
      ...going(13, 250, { code: 'worst' }),
      ...going(11, 250, { code: 'well within' }),
    ];
    const hold = acclimationHold(effect({ move: null, lots }));
    expect(hold?.words).toContain('For worst it would now be 1.3 times');
  });

  test('says the first reason that a person would have to mend: the pause before the place, the place before the light', () => {
    const everything = { move: takenBy(false), lots: going(20, 900) };
    expect(acclimationHold(effect({ ...everything, pauseReason: 'it paled' }))?.todo).toBe('resume');
    expect(acclimationHold(effect(everything))?.words).toContain('R46-XYZ');
    expect(acclimationHold(effect({ lots: going(20, 900) }))?.words).toContain('can take');
  });

  test('says in how many days it will be bearable, by first-order adaptation', () => {
    // 10 -> 12 with a time constant of 10 days; 12 / 1.15 = 10.43 is reached after 10 ln(2 / (12 - 10.43)) = 2.4 days.
    const hold = acclimationHold(effect({ lots: going(12, 250) }));
    expect(hold?.words).toContain('in about 3 days');
  });
});

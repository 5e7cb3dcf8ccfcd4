import { describe, expect, test } from 'vitest';
import type { OpenAlert } from '../../../src/alerts/diff.rules.ts';
import type { Finding } from '../../../src/alerts/finding.ts';
import { withoutSeenTo } from '../../../src/watch/advice/seen-to.rules.ts';
import type { Action } from '../../../src/watch/answers/actions.ts';
import type { KitFact, SystemFacts } from '../../../src/watch/facts/types.ts';
import { alkalinityFalling } from '../../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { blankKit, blankSystem, dayZero, find, onDay, reading } from '../facts.ts';

// How long a look holds is an own choice of this project.

const today = 40;
const kitId = 'kit';

/** Alkalinity that falls by 0.1 dKH a day in steady water, tested daily with one bottle. */
const falling = (checks: KitFact['checks'] = []): SystemFacts =>
  blankSystem({
    kept: new Map([
      ['alkalinity', { bandLow: 2.6, bandHigh: 3.4, limitHigh: null, makeUp: 3, source: 'made up' }],
    ]),
    readings: new Map([
      [
        'alkalinity',
        Array.from({ length: today }, (_, day) =>
          reading(day, day < 32 ? 3 : 3 - 0.036 * (day - 31), 0.036, { kitId, trust: 'confirmed' }),
        ),
      ],
    ]),
    kits: [blankKit({ id: kitId, quantityCode: 'alkalinity', openedDay: dayZero - 30, checks })],
  });

const found = (facts: SystemFacts): Finding => {
  const [finding] = find(alkalinityFalling, facts, today);
  if (finding === undefined) throw new Error('It falls, and nothing is found.');
  return finding;
};
const openedOn = (finding: Finding, day: number): OpenAlert => ({
  ...finding,
  ...{ id: 'alert', openedAt: onDay(day), finding, reported: { score: 1, severity: 'today' }, worst: 1 },
  ...{ quietSince: null, putOffUntil: null, putOffWorst: null },
});
const serviced = (day: number, quantityCode = 'doser', contents: Action['contents'] = {}): Action => ({
  ...{ kind: 'serviced', at: onDay(day), who: 'A', subjectId: 'system', quantityCode, name: 'Doser' },
  ...{ amount: null, before: null, contents },
});
const check = (day: number, value: number) => ({
  ...{ id: `check ${day} ${value}`, day: dayZero + day, at: onDay(day).toISOString() },
  ...{ standard: 3, value, u: 0.036 },
});

describe('what was seen to lately', () => {
  const asked = (facts: SystemFacts, actions: readonly Action[], opened: number | null) => {
    const finding = found(facts);
    const open = opened === null ? [] : [openedOn(finding, opened)];
    const [told] = withoutSeenTo([finding], { open, facts, actions, now: onDay(today) });
    return { text: told?.firstStep ?? '', figures: told?.figures ?? [] };
  };
  const doser = 'Look at what supplies it';
  const standard = 'test a standard';

  test('a doser serviced since the alert opened is not asked for again within two weeks', () => {
    expect(asked(falling(), [], 35).text).toContain(doser);
    const told = asked(falling(), [serviced(36)], 35);
    expect(told.text).not.toContain(doser);
    expect(told.text).toContain('Raise the daily dose');
    expect(told.figures.find(({ label }) => label === 'Seen to')?.text).toMatch(/^the doser on /);
    expect(asked(falling(), [serviced(today - 15)], today - 16).text).toContain(doser);
  });

  test('a doser of something else, or of what nobody knows beside others, is no look at this one', () => {
    expect(asked(falling(), [serviced(36, 'doser', { calcium: 60 })], 35).text).toContain(doser);
    expect(asked(falling(), [serviced(36, 'doser', null)], 35).text).toContain(doser);
    expect(asked(falling(), [serviced(36, 'doser', { alkalinity: 1000 })], 35).text).not.toContain(doser);
  });

  test('where the water harms the stock now, yesterday’s look is the last that holds', () => {
    const finding = { ...found(falling()), severity: 'now' as const };
    const text = (day: number) =>
      withoutSeenTo([finding], {
        ...{ open: [openedOn(finding, 35)], facts: falling(), actions: [serviced(day)], now: onDay(today) },
      })[0]?.firstStep;
    expect(text(36)).toContain(doser);
    expect(text(today - 0.5)).not.toContain(doser);
  });

  test('one serviced more than two days before the alert opened, or another thing serviced, is', () => {
    expect(asked(falling(), [serviced(36)], 38).text).toContain(doser);
    expect(asked(falling(), [serviced(today - 1)], null).text).not.toContain(doser);
    expect(asked(falling(), [serviced(36, 'heater')], 35).text).toContain(doser);
  });

  test('a standard that the bottle in use read right twice is not asked for; one check, or one that reads off, leaves it asked', () => {
    expect(asked(falling([check(36, 3.01)]), [], 35).text).toContain(standard);
    expect(asked(falling([check(36, 3.01), check(36.1, 2.98)]), [], 35).text).not.toContain(standard);
    expect(asked(falling([check(36, 3.3), check(36.1, 3.32)]), [], 35).text).toContain(standard);
    expect(asked(falling([check(10, 3.01), check(10.1, 2.98)]), [], 35).text).toContain(standard);
  });
});

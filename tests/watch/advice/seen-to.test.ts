import { describe, expect, test } from 'vitest';
import type { OpenAlert } from '../../../src/alerts/diff.rules.ts';
import type { Finding } from '../../../src/alerts/finding.ts';
import { groundOf } from '../../../src/watch/advice/ground.ts';
import { withoutSeenTo } from '../../../src/watch/advice/seen-to.rules.ts';
import type { Action } from '../../../src/watch/answers/actions.ts';
import type { KitFact, LotFact, SystemFacts } from '../../../src/watch/facts/types.ts';
import { alkalinityFalling } from '../../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { outOfBand } from '../../../src/watch/rules/bands/out-of-band.ts';
import { lightStep } from '../../../src/watch/rules/light/light-step.ts';
import { conditionNoted } from '../../../src/watch/rules/lots/condition-noted.ts';
import { blankKit, blankLot, blankSystem, dayZero, find, onDay, reading } from '../facts.ts';
import { blankRack, look, survey } from '../kinds.ts';

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
  const standard = 'Test a standard';

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
    expect(asked(falling([check(20, 3.01), check(20.1, 2.98)]), [], 35).text).not.toContain(standard);
  });

  test('a bottle that surely reads a little high is relied on, one that reads far off is not', () => {
    const read = (value: number) =>
      falling(Array.from({ length: 12 }, (_, i) => check(30 + i / 10, value + (i % 2 === 0 ? 0.01 : -0.01))));
    expect(groundOf(read(3.09)).doubtful(kitId, onDay(today))).toBeNull();
    expect(asked(read(3.09), [], 29).text).not.toContain(standard);
    expect(groundOf(read(3.3)).doubtful(kitId, onDay(today))).toBe('Alkalinity 7');
    expect(asked(read(3.3), [], 29).text).toContain(standard);
  });

  test('a standard holds while the water harms the stock, since a bottle that reads right goes on doing so', () => {
    const facts = falling([check(36, 3.01), check(36.1, 2.98)]);
    const finding = { ...found(facts), severity: 'now' as const };
    const open = [openedOn(finding, 35)];
    const [told] = withoutSeenTo([finding], { open, facts, actions: [], now: onDay(today) });
    expect(told?.firstStep).not.toContain(standard);
  });

  test('a doser seen to for another alert on the same quantity is not asked for again by this one within a week', () => {
    const finding = found(falling());
    const other = { ...openedOn(finding, 30), rule: 'alkalinity-unsteady', id: 'other' };
    const text = (day: number) =>
      withoutSeenTo([finding], {
        ...{ open: [other, openedOn(finding, 38)], facts: falling(), now: onDay(today) },
        actions: [serviced(day)],
      })[0]?.firstStep;
    expect(text(34)).not.toContain(doser);
    expect(text(31)).toContain(doser);
    const ofSalt = { ...other, rule: 'out-of-band', facet: 'salinity' };
    expect(
      withoutSeenTo([finding], {
        ...{ open: [ofSalt, openedOn(finding, 38)], facts: falling(), now: onDay(today) },
        actions: [serviced(34)],
      })[0]?.firstStep,
    ).toContain(doser);
  });

  test('where the level went no further out since the doser was seen to, it is not asked for again the next day', () => {
    const finding = { ...found(falling()), severity: 'now' as const };
    const stands = falling();
    const readings = (stands.readings.get('alkalinity') ?? []).map((one) =>
      one.day > dayZero + 35 ? { ...one, value: 3 - 0.036 * 4 } : one,
    );
    const facts = { ...stands, readings: new Map([['alkalinity', readings]]) };
    const asks = { open: [openedOn(finding, 34)], actions: [serviced(36)], now: onDay(today) };
    expect(withoutSeenTo([finding], { ...asks, facts })[0]?.firstStep).not.toContain(doser);
    expect(withoutSeenTo([finding], { ...asks, facts: stands })[0]?.firstStep).toContain(doser);
  });
});

describe('a doser while the level stands', () => {
  /** Falls until the doser was seen to, and stands there. */
  const stands = (servicedOn: number, more = 0): SystemFacts => {
    const facts = falling();
    const readings = (facts.readings.get('alkalinity') ?? []).map((one, day) =>
      day > servicedOn ? { ...one, value: 2.8 - (day === today - 1 ? more : 0) } : one,
    );
    return { ...facts, readings: new Map([['alkalinity', readings]]) };
  };
  const asked = (facts: SystemFacts, day: number) => {
    const finding = found(falling());
    const known = { open: [openedOn(finding, day - 1)], actions: [serviced(day)], now: onDay(today) };
    return withoutSeenTo([finding], { ...known, facts })[0]?.firstStep;
  };
  const doser = 'Look at what supplies it';

  test('is not looked into again for a month, and at once where the level goes further out', () => {
    const servicedOn = today - 20;
    const steady = falling().readings.get('alkalinity')?.[servicedOn]?.value ?? 0;
    expect(steady).toBe(3);
    expect(asked(stands(servicedOn), servicedOn)).toContain(doser);
    const low = { ...stands(0), kept: falling().kept };
    expect(asked(low, servicedOn)).not.toContain(doser);
    expect(asked(stands(0, 0.15), servicedOn)).toContain(doser);
  });
});

describe('a bottle that reads as the one before', () => {
  const opened = (day: number, step: number): SystemFacts => {
    const facts = falling();
    const readings = Array.from({ length: today + 60 }, (_, i) => {
      const at = i - 60;
      const level = (at < 32 ? 3 : 3 - 0.036 * (at - 31)) * (at < day ? 1 : 1 + step);
      return reading(at, level + 0.02 * Math.sin(at * 2.3), 0.036, {
        ...{ kitId: at < day ? 'before' : kitId, trust: 'confirmed' },
      });
    });
    const systems = [{ systemId: 'system', name: 'Long run', firstDay: dayZero + day, readings }];
    const kit = { id: kitId, quantityCode: 'alkalinity', openedDay: dayZero + day };
    return { ...facts, readings: new Map([['alkalinity', readings]]), kits: [blankKit({ ...kit, systems })] };
  };
  const asked = (facts: SystemFacts) =>
    withoutSeenTo([found(facts)], { open: [], facts, actions: [], now: onDay(today) })[0];

  test('answers for a standard as long as one would, and is said for what it is; one that differs, or was opened before, does not', () => {
    const told = asked(opened(20, 0));
    expect(told?.firstStep).not.toContain('Test a standard');
    expect(told?.figures.find(({ label }) => label === 'Seen to')?.text).toMatch(
      /a bottle that reads as the one before, opened on /,
    );
    expect(asked(opened(20, 0.08))?.firstStep).toContain('Test a standard');
    expect(asked(opened(10, 0))?.firstStep).toContain('Test a standard');
  });
});

describe('the place of a lot', () => {
  const ill = (more: Partial<LotFact> = {}): SystemFacts =>
    blankSystem({
      lots: [
        blankLot({ id: 'ill', conditions: [look(38, 'receding', 1), look(30, 'well')] }),
        blankLot({ id: 'beside', ...more }),
      ],
    });
  const asked = (facts: SystemFacts, said: number | null) => {
    const [finding] = find(conditionNoted, facts, today);
    if (finding === undefined) throw new Error('It recedes, and nothing is found.');
    const actions: Action[] =
      said === null
        ? []
        : [{ ...serviced(said), kind: 'said', subjectId: 'alert', quantityCode: null, contents: null }];
    const open = [openedOn(finding, 38)];
    return withoutSeenTo([finding], { open, facts, actions, now: onDay(today) })[0]?.firstStep;
  };

  test('is not asked for again once somebody said that the steps were done, unless something was set beside it since', () => {
    expect(asked(ill(), null)).toContain('Look at flow and neighbours.');
    expect(asked(ill(), 38.5)).not.toContain('Look at flow and neighbours.');
    expect(asked(ill(), 38.5)).toContain('Look at nitrate and alkalinity first.');
    expect(asked(ill({ placedDay: dayZero + 38.8 }), 38.5)).toContain('Look at flow and neighbours.');
  });
});

describe('lamps that give less', () => {
  const rack = (days: readonly [number, number][]): SystemFacts =>
    blankSystem({
      lamps: [{ id: 'lamp', name: 'Row 1', tankName: 'North', settings: [] }],
      racks: [blankRack({ id: 'rack', lampId: 'lamp', surveys: days.map(([day, par]) => survey(day, par)) })],
    });
  const asked = (facts: SystemFacts) => {
    const [finding] = find(lightStep, facts, today);
    if (finding === undefined) throw new Error('They fade, and nothing is found.');
    const open = [openedOn(finding, 37)];
    return withoutSeenTo([finding], { open, facts, actions: [], now: onDay(today) })[0]?.firstStep;
  };

  test('are measured again once, not each time', () => {
    const before = [
      [0, 100],
      [36, 60],
    ] as const;
    expect(asked(rack(before.map(([day, par]) => [day, par])))).toContain('then measure again');
    const again = asked(rack([...before.map(([day, par]): [number, number] => [day, par]), [38, 60]]));
    expect(again).not.toContain('then measure again');
    expect(again).toContain('Measure before lamps are replaced.');
  });
});

describe('salinity within its band', () => {
  const [low, high] = [34, 36];
  const asked = (salinity: number, day: number) => {
    const kept = (bandLow: number, bandHigh: number) => ({
      ...{ bandLow, bandHigh, limitHigh: null, makeUp: null, source: 'made up' },
    });
    const facts = blankSystem({
      kept: new Map([
        ['alkalinity', kept(2.6, 3.4)],
        ['salinity', kept(low, high)],
      ]),
      readings: new Map([
        ['alkalinity', [1, 2, 3].map((n) => reading(today - 4 + n, 2.3, 0.036))],
        ['salinity', [reading(day, salinity, 0.2)]],
      ]),
    });
    const finding = find(outOfBand, facts, today).find(({ facet }) => facet === 'alkalinity');
    if (finding === undefined) throw new Error('It is low, and nothing is found.');
    return withoutSeenTo([finding], { open: [], facts, actions: [], now: onDay(today) })[0]?.firstStep;
  };

  test('by a test of late is not asked for beside low alkalinity', () => {
    expect(asked(35, today - 1)).not.toContain('Look at the salinity.');
    expect(asked(35, today - 6)).toContain('Look at the salinity.');
    expect(asked(33, today - 1)).toContain('Look at the salinity.');
  });
});

import { describe, expect, test } from 'vitest';
import type { ConditionFact, LotFact, RackFact } from '../../src/watch/facts/types.ts';
import { conditionNoted } from '../../src/watch/rules/lots/condition-noted.ts';
import { blankLot, blankSystem, dayZero, find, madeId, onDay, reading } from './facts.ts';

// What is done with one lot that pales or recedes: common practice of growers.

const look = (
  day: number,
  state: ConditionFact['state'],
  more: Partial<ConditionFact> = {},
): ConditionFact => ({
  ...{
    id: madeId(),
    day: dayZero + day,
    at: onDay(day).toISOString(),
    state,
    grade: state === 'well' ? null : 2,
  },
  ...{ compared: null, note: '' },
  ...more,
});

const rackMeasuredOn = (day: number): RackFact => ({
  ...{ id: 'rack', name: 'N3', tankName: 'North', tankHeightMm: 400, lampId: 'lamp', depthMm: 200 },
  ...{ slotWidthMm: 80, slotDepthMm: 80, standsDay: dayZero - 100 },
  surveys: [
    {
      ...{ id: madeId(), day: dayZero + day, at: onDay(day).toISOString(), percent: 70 },
      ...{ meter: 'meter', par: 90 },
    },
  ],
});

const stepsOf = (lot: Partial<LotFact>, day: number, measured = 0) => {
  const facts = blankSystem({ lots: [blankLot(lot)], racks: [rackMeasuredOn(measured)] });
  const [found] = find(conditionNoted, facts, day);
  return { text: found?.firstStep ?? '', advice: found?.advice ?? [] };
};

describe('the steps for an unwell lot', () => {
  const apart = ({ advice }: ReturnType<typeof stepsOf>) =>
    advice.some(({ acts }) => acts.some(({ lever, direction }) => lever === 'apart' && direction === 'do'));

  test('one that goes on losing flesh is taken into water of its own', () => {
    const looks = [look(10, 'receding'), look(3, 'receding'), look(0, 'well')];
    expect(apart(stepsOf({ conditions: looks }, 11))).toBe(true);
  });

  test('one seen receding for the first time, or better since, is looked at first', () => {
    expect(apart(stepsOf({ conditions: [look(10, 'receding'), look(3, 'well')] }, 11))).toBe(false);
    const better = [look(10, 'receding', { compared: 'better' }), look(3, 'receding')];
    expect(apart(stepsOf({ conditions: better }, 11))).toBe(false);
  });

  test('an edge that stands still is left and compared: nothing is set apart, looked for or done now', () => {
    const still = [look(10, 'receding', { compared: 'as_before' }), look(3, 'receding'), look(0, 'well')];
    const [found] = find(conditionNoted, blankSystem({ lots: [blankLot({ conditions: still })] }), 11);
    expect(found?.severity).toBe('today');
    expect(found?.firstStep).toMatch(/^Photograph the edge and compare it/);
    expect(apart(stepsOf({ conditions: still }, 11))).toBe(false);
    // It is looked at again within the week, not after three days.
    expect(stepsOf({ conditions: still }, 16).text).not.toContain('Look at it again today');
    expect(stepsOf({ conditions: still }, 17).text).toContain('Look at it again today');
  });

  test('no worse than a day before says too little; and seen worse once more it goes on', () => {
    const hours = [look(10, 'receding', { compared: 'as_before' }), look(9.2, 'receding'), look(0, 'well')];
    expect(apart(stepsOf({ conditions: hours }, 11))).toBe(true);
    const worse = [
      look(14, 'receding', { compared: 'worse' }),
      look(10, 'receding', { compared: 'as_before' }),
      look(3, 'receding'),
    ];
    const [found] = find(conditionNoted, blankSystem({ lots: [blankLot({ conditions: worse })] }), 15);
    expect(found?.severity).toBe('now');
    expect(apart(stepsOf({ conditions: worse }, 15))).toBe(true);
  });

  test('what late tests show to be within its band is said, and not to be tested again', () => {
    const kept = (bandLow: number, bandHigh: number) => ({
      ...{ bandLow, bandHigh, limitHigh: null, makeUp: null, source: 'made up' },
    });
    const told = (nitrate: number, alkalinityDay: number) => {
      const facts = blankSystem({
        lots: [blankLot({ conditions: [look(10, 'receding'), look(3, 'well')] })],
        kept: new Map([
          ['nitrate', kept(2, 20)],
          ['alkalinity', kept(2.6, 3.4)],
        ]),
        readings: new Map([
          ['nitrate', [reading(6, nitrate, 1)]],
          ['alkalinity', [reading(alkalinityDay, 3, 0.04)]],
        ]),
      });
      const [found] = find(conditionNoted, facts, 11);
      return { text: found?.firstStep ?? '', figures: found?.figures.map(({ label }) => label) ?? [] };
    };
    expect(told(8, 10).text).toContain('Look at flow and neighbours.');
    expect(told(8, 10).figures).toContain('Within its band');
    expect(told(8, 2).text).toContain('Look at alkalinity first. Look at flow and neighbours.');
    // Nitrate that is raised is looked at again, and alkalinity with it.
    expect(told(25, 10).text).toContain('Look at nitrate and alkalinity first');
  });

  const light = [{ ...{ fromDay: dayZero - 60, par: 90, dli: 3.24, error: 5, estimated: false } }];
  const care = { ...blankLot().care, ceiling: { par: 200, source: 'made up' } };
  const pale = { light, care, conditions: [look(10, 'paling'), look(3, 'well')] };

  test('the light of one that pales is measured again where it was measured before it paled', () => {
    expect(stepsOf(pale, 11, 0).text).toContain('Measure the light at its place again.');
  });

  test('but not where it was measured since', () => {
    expect(stepsOf(pale, 11, 10.5).text).not.toContain('Measure the light at its place again');
  });
});

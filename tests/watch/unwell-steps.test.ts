import { describe, expect, test } from 'vitest';
import { arbitrate } from '../../src/watch/advice/arbiter.ts';
import { groundOf } from '../../src/watch/advice/ground.ts';
import type { ConditionFact, LotFact, RackFact, ReadingFact } from '../../src/watch/facts/types.ts';
import { tooMuchLight } from '../../src/watch/rules/light/too-much-light.ts';
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

  describe('after a sudden change of their water', () => {
    // 3.8 dKH within an hour; at most 1 dKH a day is borne (how-to articles, common practice).
    const jump = [reading(9, 2.9, 0.04), reading(9.04, 2.9 + 3.8 * 0.357, 0.04)];
    const pales = (day: number) =>
      blankLot({ care, light, conditions: [look(day, 'paling'), look(3, 'well')] });
    const told = (lots: LotFact[], readings = jump) => {
      const facts = blankSystem({
        lots,
        racks: [rackMeasuredOn(10.5)],
        readings: new Map([['alkalinity', readings]]),
      });
      return { notes: find(conditionNoted, facts, 11), light: find(tooMuchLight, facts, 11) };
    };

    test('several lots that pale name it as the likely cause, and are left where they are', () => {
      const { notes } = told([pales(9.5), pales(10)]);
      expect(notes).toHaveLength(2);
      for (const note of notes) {
        expect(note.why).toContain(
          'Likely cause: a sudden change of the water, alkalinity up by 3.8 dKH within an hour',
        );
        expect(note.why).toContain('2 lots of this water');
        expect(note.firstStep).toMatch(/^Leave it where it is until the water is steady/);
        expect(note.firstStep).not.toMatch(/dimmer/);
        expect(note.causes[0]).toMatchObject({ rule: 'overdose', facet: 'alkalinity' });
      }
    });

    test('one lot alone says nothing of the water, but the change stands among what changed', () => {
      const [note] = told([pales(9.5)]).notes;
      expect(note?.why).not.toContain('Likely cause');
      const changed = note?.figures.find(({ label }) => label.startsWith('Changed before'));
      expect(changed?.text).toContain('alkalinity up by 3.8 dKH within an hour');
    });

    test('what was seen before it, or long after it, has other causes', () => {
      for (const lots of [
        [pales(8), pales(8.5)],
        [pales(9.5), pales(8)],
      ])
        for (const note of told(lots).notes) expect(note.why).not.toContain('Likely cause');
      const early = [reading(1, 2.9, 0.04), reading(1.04, 4.3, 0.04)];
      for (const note of told([pales(10), pales(10)], early).notes)
        expect(note.why).not.toContain('Likely cause');
    });

    test('a level that moves within test error or over days is none', () => {
      const slow = [reading(4, 2.9, 0.04), reading(6, 3.3, 0.04), reading(9, 3.7, 0.04)];
      for (const note of told([pales(9.5), pales(10)], slow).notes)
        expect(note.why).not.toContain('Likely cause');
    });

    test('one test that was not repeated yet is told as that', () => {
      const [before, after] = jump as [ReadingFact, ReadingFact];
      const [note] = told([pales(9.5), pales(10)], [before, { ...after, trust: 'unconfirmed' }]).notes;
      expect(note?.why).toContain('by one test that was not repeated yet');
    });

    test('the alert on their light does not name the light as the cause, and no page gives two advices', () => {
      const bright = [{ ...{ fromDay: dayZero - 60, par: 320, dli: 11.5, error: 5, estimated: false } }];
      const lots = [pales(9.5), pales(10)].map((lot) => ({ ...lot, light: bright }));
      const facts = blankSystem({
        lots,
        racks: [rackMeasuredOn(10.5)],
        readings: new Map([['alkalinity', jump]]),
      });
      const all = [...find(conditionNoted, facts, 11), ...find(tooMuchLight, facts, 11)];
      expect(all.map(({ rule }) => rule)).toContain('too-much-light');
      for (const { title } of all) expect(title).not.toMatch(/under (too much|suddenly more) light/);
      const steps = arbitrate(all, groundOf(facts), onDay(11)).map(({ firstStep }) => firstStep);
      for (const step of steps) {
        expect(step).toMatch(/Leave it where it is/);
        expect(step).not.toMatch(/Move it/);
      }
    });
  });
});

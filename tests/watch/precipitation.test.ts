import { describe, expect, test } from 'vitest';
import type { SystemFacts } from '../../src/watch/facts/types.ts';
import { alkalinityFalling } from '../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { overdose } from '../../src/watch/rules/chemistry/overdose.ts';
import { precipitation } from '../../src/watch/rules/chemistry/precipitation.ts';
import { demandChanged } from '../../src/watch/rules/demand/demand-changed.ts';
import { dkh, useWorld } from './demand-worlds.ts';
import { blankSystem, dose, find, firing, reading } from './facts.ts';

/** A level of dKH and mg/L by day, dosed with 0.5 dKH a day. */
interface Course {
  days: number;
  alkalinity: (day: number) => number;
  calcium: (day: number) => number;
  dosed?: number;
  more?: Partial<SystemFacts>;
  salinity?: (day: number) => number;
}
function water({ days, alkalinity, calcium, dosed = 0.5, salinity, more = {} }: Course): SystemFacts {
  const each = Array.from({ length: days + 1 }, (_, day) => day);
  const readings = new Map([
    ['alkalinity', each.map((day) => reading(day, alkalinity(day) * dkh, 0.07))],
    ['calcium', each.filter((day) => (days - day) % 3 === 0).map((day) => reading(day, calcium(day), 10))],
    ...(salinity === undefined
      ? []
      : [['salinity', each.map((day) => reading(day, salinity(day), 0.3))] as const]),
  ]);
  const kept = { bandLow: 7 * dkh, bandHigh: 9 * dkh, limitHigh: null, makeUp: null, source: 'own choice' };
  return blankSystem({
    readings,
    kept: new Map([['alkalinity', kept]]),
    doses: dosed === 0 ? [] : each.map((day) => dose(day + 0.1, 'alkalinity', dosed * dkh)),
    ...more,
  });
}
/** Stands for five weeks at 8.5 dKH and 430 mg/L, then both fall for four days. */
const falls = (perDay: number, calciumPerDay: number, more: Partial<Course> = {}) =>
  water({
    days: 40,
    alkalinity: (day) => 8.5 - perDay * Math.max(0, day - 36),
    calcium: (day) => 430 - calciumPerDay * Math.max(0, day - 36),
    ...more,
  });

describe('carbonate that drops out', () => {
  test('is named when both fall for days while doses go on', () => {
    // 0.7 dKH of fall and 0.5 dKH of dose a day are 0.43 meq/L; carbonate takes 20.04 mg/L of calcium with each.
    // It ends at 5.7 dKH, which is acute (below 6).
    const [found] = firing(find(precipitation, falls(0.7, 8.6), 40));
    expect(found).toMatchObject({ severity: 'now' });
    expect(found?.firstStep).toContain('Raise no dose');
    expect(found?.firstStep).toContain('heaters, pumps');
    expect(found?.numbers).toContain('while doses went on');
  });

  test.each([
    [4.3, 0.45, 'now'],
    [6.3, 0.45, 'now'],
    [7.4, 0.45, 'today'],
  ])(
    'at %d dKH, falling by %d a day, is for %s: what is acute within a day is not for the day’s list',
    (ends, perDay, severity) => {
      // Acute below 6 dKH: table of safe rates, common practice.
      const facts = falls(perDay, 8.6, {
        alkalinity: (day) => ends + perDay * Math.min(4, 40 - day),
        dosed: 0.2,
      });
      const [found] = firing(find(precipitation, facts, 40));
      expect(found?.severity).toBe(severity);
      expect(found?.firstStep).toContain('Raise no dose');
      expect(found?.firstStep.includes('new water of normal alkalinity')).toBe(severity === 'now');
    },
  );

  test('makes no other rule ask for more of what drops out', () => {
    const facts = falls(0.7, 8.6);
    for (const rule of [alkalinityFalling, demandChanged])
      for (const { firstStep } of firing(find(rule, facts, 40)))
        expect(firstStep).not.toMatch(/raise the daily dose|doser line/);
  });

  test.each([
    ['calcium stands', falls(0.7, 0)],
    ['nothing is dosed', falls(0.7, 8.6, { dosed: 0 })],
    ['calcium falls far more than carbonate takes', falls(0.2, 30)],
    [
      'the salt falls as much: fresh water',
      falls(0.7, 8.6, { salinity: (day) => 35 - 2 * Math.max(0, day - 36) }),
    ],
    [
      'only the newest test is low',
      water({ days: 40, alkalinity: (day) => (day === 40 ? 6 : 8.5), calcium: () => 430 }),
    ],
  ])('is not named where %s', (_, facts) => {
    expect(firing(find(precipitation, facts, 40))).toEqual([]);
  });

  test('is not named for demand that grew: the loss of the weeks before was nearly as large', () => {
    const grown = water({
      days: 40,
      dosed: 0.5,
      alkalinity: (day) => 9 - 0.06 * day,
      calcium: (day) => 450 - 2 * day,
    });
    expect(firing(find(precipitation, grown, 40))).toEqual([]);
  });

  test('is not named for a fall that adds a third to what was lost before, from its first day on', () => {
    // Held by 0.5 dKH a day, then 0.15 a day more is lost, and calcium with it: 1.3 times the loss before, where 1.6 is asked for.
    const facts = falls(0, 0, {
      alkalinity: (day) => 8.5 - 0.15 * Math.max(0, day - 32),
      calcium: (day) => 430 - 8 * Math.max(0, day - 34),
    });
    expect(firing(find(precipitation, facts, 40))).toEqual([]);
  });

  test('is not named in calm systems with kits, slips and weekly changes, nor where demand doubles without calcium tests to show it', () => {
    let named = 0;
    let looked = 0;
    for (let seed = 1; seed <= 12; seed += 1) {
      const facts = useWorld({ seed, days: 200, growth: 0.002 });
      for (let day = 60; day < 200; day += 5) {
        const until = {
          ...facts,
          readings: before(facts, day),
          doses: facts.doses.filter((one) => one.day < day + dayOne),
        };
        named += firing(find(precipitation, until, day)).length;
        looked += 1;
      }
    }
    expect(looked).toBe(12 * 28);
    expect(named).toBeLessThanOrEqual(3);
  });
});

const dayOne = Date.UTC(2026, 0, 1) / 86_400_000;
const before = (facts: SystemFacts, day: number) =>
  new Map([...facts.readings].map(([code, list]) => [code, list.filter((one) => one.day <= day + dayOne)]));

describe('too much dosed', () => {
  const posted = (rise: number, more = {}) => ({
    ...dose(10, 'alkalinity', rise * dkh),
    concerns: ['120 g is 10 times the usual 12 g.'],
    reason: '',
    byInstrument: true,
    ...more,
  });
  const on = (day: number, doses: SystemFacts['doses'], alkalinity: [number, number][] = []) =>
    firing(
      find(
        overdose,
        blankSystem({
          doses,
          kept: new Map([
            [
              'alkalinity',
              { bandLow: 7 * dkh, bandHigh: 9 * dkh, limitHigh: null, makeUp: null, source: '' },
            ],
          ]),
          readings: new Map([
            ['alkalinity', alkalinity.map(([at, level]) => reading(at, level * dkh, 0.07))],
          ]),
        }),
        day,
      ),
    );

  test('by an instrument is act-now at once, with the source to be stopped first', () => {
    const [found] = on(10.01, [posted(4)]);
    expect(found).toMatchObject({
      severity: 'now',
      title: 'Long run: alkalinity raised about 4.0 dKH at once',
    });
    expect(found?.firstStep).toMatch(/^Keep the water moving.*Stop the source in two ways.*Test pH now/);
  });

  test('of several doses is said with their number, not as one', () => {
    const each = [8, 9, 10].map((day) => posted(2.5, { day: dose(day, 'alkalinity', 1).day }));
    expect(on(10.01, each)[0]?.title).toBe('Long run: alkalinity raised about 7.5 dKH by 3 doses');
  });

  test('ends when a test an hour later or more stands in the band, not by one made at once', () => {
    expect(on(10.1, [posted(4)], [[10.01, 8]])).toHaveLength(1);
    expect(on(10.1, [posted(4)], [[10.05, 12]])).toHaveLength(1);
    expect(on(10.5, [posted(4)], [[10.4, 8.8]])).toEqual([]);
    expect(on(14.5, [posted(4)])).toEqual([]);
  });

  test('by a person who said why is told of only where it comes to several daily caps', () => {
    const said = { byInstrument: false, reason: 'the wrong cup' };
    expect(on(10.1, [posted(1.2, said)])).toEqual([]);
    expect(on(10.1, [posted(4, said)])).toHaveLength(1);
  });

  test('of limewater begins with the people', () => {
    expect(on(10.1, [posted(5, { substance: 'saturated limewater' })])[0]?.firstStep).toMatch(
      /^Wear gloves and goggles: limewater .* burn/,
    );
  });
});

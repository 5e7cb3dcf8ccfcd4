import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { RateNow } from '../../src/water/demand/supply.rules.ts';
import {
  isDosedWithAlkalinity,
  isWeighed,
  type TestedQuantity,
  type WeighedCode,
  type WeighedTests,
  weighTests,
} from '../../src/water/routines/test-schedule.rules.ts';
import { type Bench, benchNow, startBench, type Visitor } from '../support/service.ts';
import { dayZero, dose, reading } from '../watch/facts.ts';
import { makeSystem, read } from './farm.ts';

// 1 meq/L is 2.804 dKH (half the molar mass of CaO, 56.077 g/mol, in tens of mg).
const perDkh = 1 / 2.804;

/** Ten steady tests of a quantity in a band; levels in canonical units. */
function tested(
  code: WeighedCode,
  level: number,
  u: number,
  band: readonly [low: number, high: number],
  more: Partial<TestedQuantity> = {},
): TestedQuantity {
  return {
    ...{ code, plausibleLow: level / 2, plausibleHigh: 2 * level, hasProbe: false, everyDays: 7 },
    readings: Array.from({ length: 10 }, (_, i) => reading(i, level, u)),
    kept: { bandLow: band[0], bandHigh: band[1], limitHigh: null, makeUp: null, source: 'own choice' },
    ...{ rate: null, dosedWithAlkalinity: false },
    ...more,
  };
}

const rate = (perDay: number, dosedPerDay = 0): RateNow => ({
  days: 14,
  rate: {
    ...{ perDay, dosedPerDay, sd: 0, low: perDay, high: perDay, fromDay: 0, toDay: 14, readings: 10 },
    ...{ level: 0, changedPerDay: 0.02, last: { level: 0, sd: 0, cov: 0 }, leftOut: new Map() },
  },
});

const alkalinity = (use: number, more: Partial<TestedQuantity> = {}) =>
  tested('alkalinity', 8.2 * perDkh, 0.1 * perDkh, [7.3 * perDkh, 9.5 * perDkh], {
    rate: rate(-use * perDkh, use * perDkh),
    ...more,
  });

function weighed(one: TestedQuantity): WeighedTests {
  const found = weighTests(one);
  if (!isWeighed(found)) throw new Error(found.unknown);
  return found;
}

describe('what is dosed together with alkalinity', () => {
  const dosed = (days: readonly number[], quantityCode: string, substance = 'one solution') =>
    days.map((day) => ({ ...dose(day, quantityCode, 1), substance }));
  const days = [1, 3, 5, 7, 9, 11];

  test('is known by doses of one substance at one time, each of them', () => {
    const both = [...dosed(days, 'alkalinity'), ...dosed(days, 'calcium')];
    expect(isDosedWithAlkalinity(both, 'calcium', dayZero + 12)).toBe(true);
    expect(isDosedWithAlkalinity(both, 'alkalinity', dayZero + 12)).toBe(false);
    expect(isDosedWithAlkalinity([...both, ...dosed([12], 'calcium')], 'calcium', dayZero + 12)).toBe(false);
    expect(isDosedWithAlkalinity(both, 'calcium', dayZero + 60)).toBe(false);
    const apart = [...dosed(days, 'alkalinity'), ...dosed(days, 'calcium', 'another solution')];
    expect(isDosedWithAlkalinity(apart, 'calcium', dayZero + 12)).toBe(false);
  });

  test('needs no tests of its own for what befalls its doses: alkalinity tells that sooner', () => {
    // 0.45 meq/L of alkalinity go with 9 mg/L of calcium (20.04 mg/L a meq, CaCO3).
    const calcium = (dosedWithAlkalinity: boolean) =>
      weighed(tested('calcium', 430, 9, [380, 480], { rate: rate(-9, 9), dosedWithAlkalinity }));
    expect(calcium(true).proposed).toBe(14);
    expect(calcium(true).goings.map(({ toldByAlkalinity }) => toldByAlkalinity)).toEqual([true, true]);
    expect(calcium(false).proposed).toBeLessThan(14);
  });
});

describe('the tests that are worth their minutes', () => {
  test('come so often that each trouble is told while a third of its time is left', () => {
    for (const use of [0.1, 0.2, 0.4, 0.6]) {
      const { goings, isLate } = weighed(alkalinity(use));
      expect(isLate).toBe(false);
      for (const { harmsAfter, toldProposed, bound } of goings) {
        expect(bound).toBeCloseTo((2 / 3) * harmsAfter, 9);
        expect(toldProposed).toBeLessThanOrEqual(bound);
      }
    }
  });

  test('come the oftener the faster the stock uses it up', () => {
    const every = [0.1, 0.4, 0.8].map((use) => weighed(alkalinity(use)).proposed);
    expect(every).toEqual([...every].sort((a, b) => b - a));
    expect(every[0]).toBeGreaterThan(every[2] ?? 0);
  });

  test('say so where even daily tests are too slow', () => {
    expect(weighed(alkalinity(4))).toMatchObject({ proposed: 1, isLate: true });
  });

  test('are not asked for daily where that would not tell a slow change much sooner', () => {
    const calcium = weighed(tested('calcium', 425, 9, [380, 480], { rate: rate(-2.9, 2.9) }));
    const magnesium = weighed(tested('magnesium', 1300, 30, [1250, 1400], { rate: rate(-0.5, 0.5) }));
    for (const { proposed, goings } of [calcium, magnesium]) {
      expect(proposed).toBeGreaterThanOrEqual(7);
      for (const { toldProposed, harmsAfter } of goings) expect(toldProposed).toBeLessThan(harmsAfter);
    }
  });

  // Arithmetic: 8.2 dKH down to 6 (acute, beyond a band from 7.3) at 0.44 a day takes 5 days.
  test('are told against the level that harms, or one well beyond the band where none is known', () => {
    // Low alkalinity harms at a known level; for phosphate none is in the table of acute states.
    const [stops] = weighed(alkalinity(0.2)).goings;
    expect(stops).toMatchObject({ kind: 'dose stops', isHarmKnown: true });
    const [rises] = weighed(tested('phosphate', 0.05, 0.01, [0.02, 0.1], { rate: rate(0.002) })).goings;
    // Half the width of the band beyond it, own choice: 0.14 from 0.05 at 0.002 a day.
    expect(rises).toMatchObject({ kind: 'changes stop', isHarmKnown: false });
    expect(rises.harmsAfter).toBeCloseTo(0.09 / 0.002, 6);
  });

  test('count the time until it harms from the level and the speed', () => {
    const [worst] = weighed(alkalinity(0.44)).goings;
    expect(worst).toMatchObject({ kind: 'dose stops' });
    expect(worst.harmsAfter).toBeCloseTo(5, 2);
  });

  // 35 PSU of water of which 1 % evaporates a day: 0.35 a day, 38 after 8.6 days.
  test('of salinity go by what evaporates', () => {
    const [worst] = weighed(tested('salinity', 35, 0.2, [34, 36])).goings;
    expect(worst.kind).toBe('top-up stops');
    expect(worst.harmsAfter).toBeCloseTo(3 / 0.35, 6);
  });

  test('are counted in minutes a week, as planned and as proposed', () => {
    const { minutes, proposed } = weighed(alkalinity(0.1, { everyDays: 1 }));
    expect(minutes).toEqual({ now: 28, proposed: 28 / proposed });
    expect(weighed(alkalinity(0.1, { everyDays: null })).minutes.now).toBe(0);
  });

  test.each<[string, TestedQuantity, string]>([
    [
      'no use is known',
      alkalinity(0.2, { rate: { rate: null, why: 'it was never read here' } }),
      'never read',
    ],
    ['there is no band', alkalinity(0.2, { kept: undefined }), 'no band'],
    ['there are few tests', alkalinity(0.2, { readings: [] }), 'fewer than 5'],
    ['a probe reads it', alkalinity(0.2, { hasProbe: true }), 'a probe'],
    ['it is out of its band', tested('nitrate', 30, 2, [1, 20], { rate: rate(0.2) }), 'outside its band now'],
    [
      'the band is open on the side to which it moves',
      tested('calcium', 425, 9, [0, 480], {
        kept: { bandLow: null, bandHigh: 480, limitHigh: null, makeUp: null, source: '' },
        rate: rate(-3),
      }),
      'open on the side',
    ],
    ['nothing is made of it', tested('nitrate', 8, 0.8, [1, 20], { rate: rate(-0.1) }), 'nothing raises it'],
  ])('are not known where %s', (_, one, why) => {
    const found = weighTests(one);
    expect(isWeighed(found) ? '' : found.unknown).toContain(why);
  });
});

describe('the schedule of tests beside the routines', () => {
  let bench: Bench;
  let systemId: string;
  let manager: Visitor;
  let hand: Visitor;
  beforeAll(async () => {
    bench = await startBench({ watching: false });
    systemId = await makeSystem(bench);
    manager = await bench.as('manager', 'Ines');
    hand = await bench.as('hand', 'Bea');
    const day = (back: number) => new Date(benchNow.getTime() - back * 86_400_000).toISOString();
    for (let back = 20; back >= 0; back -= 2) {
      await read(bench, systemId, day(back), 'alkalinity', '8.2');
      await hand.send('/api/doses', {
        ...{ systemId, at: day(back + 0.5), quantityCode: 'alkalinity', rise: 0.3 },
        ...{ substance: 'two-part solution', amount: 30, unit: 'mL' },
      });
    }
    await manager.send('/api/routines', {
      ...{ systemId, work: 'test', quantityCode: 'alkalinity', everyDays: '1', startsOn: '2026-11-24' },
    });
  });
  afterAll(() => bench.close());

  test('is proposed with what is known and what is not, as a page and as JSON', async () => {
    const page = await hand.get(`/water/systems/${systemId}/routines`);
    expect(page.body).toContain('How often a test is worth it');
    expect(page.body).toContain('If nothing is dosed any more');
    expect(page.body).toMatch(/Nitrate: it has fewer than 5 tests that count/);
    expect(page.body).not.toContain('Test every week</button>');
    const { tests, unknown } = (await hand.get(`/api/systems/${systemId}/test-schedule`)).json() as {
      tests: { quantityCode: string; everyDays: number; proposedEveryDays: number }[];
      unknown: string[];
    };
    expect(tests).toMatchObject([{ quantityCode: 'alkalinity', everyDays: 1 }]);
    expect(tests[0]?.proposedEveryDays).toBeGreaterThan(1);
    expect(unknown).toHaveLength(1);
  });

  test('is taken by one tap, and keeps the plan before it', async () => {
    const url = `/water/systems/${systemId}/routines`;
    const html = (await manager.get(url)).body;
    const form =
      /<form method="post" action="(\/water\/routines\/[^"]+)">.*?name="everyDays" value="([^"]+)".*?name="startsOn" value="([^"]+)".*?name="version" value="([^"]+)"/s.exec(
        html,
      );
    const [, action = '', everyDays = '', startsOn = '', version = ''] = form ?? [];
    const taken = await manager.post(action, {
      ...{ work: 'test', quantityCode: 'alkalinity', everyDays, startsOn, version },
    });
    expect(taken.status).toBe(303);
    const { running, ended } = (await manager.get(`/api/routines?systemId=${systemId}`)).json() as {
      running: { everyDays: number }[];
      ended: { everyDays: number }[];
    };
    expect(ended).toMatchObject([{ everyDays: 1 }]);
    expect(running[0]?.everyDays).toBeGreaterThan(1);
    expect((await manager.get(url)).body).toContain('as planned');
  });
});

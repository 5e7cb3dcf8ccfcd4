import { describe, expect, test } from 'vitest';
import { quantities } from '../../seed/library.ts';
import { newestRun } from '../../src/science/trend.ts';
import { convert, convertDifference } from '../../src/science/units/convert.ts';
import { alkalinityFalling } from '../../src/watch/rules/alkalinity/alkalinity-falling.ts';
import { type DemandData, rateNow } from '../../src/water/demand/supply.rules.ts';
import type { HistoryPoint } from '../../src/water/overview/overview.ts';
import { steadinessWords } from '../../src/water/overview/steadiness.rules.ts';
import { forecastOf } from '../../src/water/system-page/forecast.rules.ts';
import { blankSystem, dayZero, find, firing, onDay, reading } from './facts.ts';

// A level tested once a week for three months, about 8.0 dKH, then eight mornings running that fall by 0.15 dKH a day from 8.3 to
// 7.25, with one stray test of 7.8 on the first evening; the band begins at 7.0 (made up). By hand: 7.0 within two days, 5.15 in
// two weeks.

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');
const perDkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');
const inDkh = (value: number) => convert('alkalinity', value, 'meq/L', 'dKH');
const weekly = [8.1, 8.2, 7.9, 8.3, 8.3, 8.2, 8.1, 7.9, 7.9, 7.8, 8.3, 8.05];
const tests: [day: number, dkh: number][] = [
  ...weekly.map((value, i): [number, number] => [7 * i, value]),
  [84, 8.3],
  [84.4, 7.8],
  ...[8.15, 8, 7.85, 7.7, 7.55, 7.4, 7.25].map((value, i): [number, number] => [85 + i, value]),
];
const until = (day: number) =>
  tests.filter(([at]) => at <= day).map(([at, value]) => reading(at, dkh(value), 0.2 * perDkh));
const band = { bandLow: dkh(7), bandHigh: dkh(9), limitHigh: null, makeUp: null, source: 'starting band' };
const told = (day: number) =>
  firing(
    find(
      alkalinityFalling,
      blankSystem({ kept: new Map([['alkalinity', band]]), readings: new Map([['alkalinity', until(day)]]) }),
      day + 0.01,
    ),
  )[0];
const alkalinity = quantities().find(({ code }) => code === 'alkalinity');
if (alkalinity === undefined) throw new Error('no alkalinity');
const quantity = alkalinity as Parameters<typeof forecastOf>[0];

describe('a level that falls by the same each day after months of weekly tests', () => {
  test('is told two days and more before it is below its band, with what it truly falls by', () => {
    expect(told(87)).toBeUndefined();
    expect(told(90)?.numbers).toMatch(
      /^7\.4 dKH, falls by 0\.15 dKH a day; 7\.0 dKH is reached about 3 Apr 2026$/,
    );
    expect(told(91)?.severity).toBe('now');
  });

  test('goes on by that in the forecast, which holds what a ruler says', () => {
    const readings = until(91).map((one) => ({ ...one, kitId: null, confirmed: false }));
    const forecast = forecastOf(quantity, { readings, nitrate: null, events: [] }, onDay(91.1), 14);
    const [first, last] = [forecast?.points[0], forecast?.points.at(-1)];
    expect(inDkh(first?.value ?? 0)).toBeCloseTo(7.25, 1);
    expect(forecast?.points).toHaveLength(15);
    expect(inDkh(last?.value ?? 0)).toBeCloseTo(5.15, 1);
    expect(inDkh(last?.low ?? 0)).toBeLessThan(5);
    expect(inDkh(last?.high ?? 0)).toBeLessThan(6.5);
  });

  test('is used by 0.15 dKH a day since then, not by the mean of the fortnight', () => {
    const data: DemandData = {
      readings: until(91).map((one) => ({ ...one, instrument: '', suspect: false })),
      log: { changes: [], doses: [], makeUp: null },
      ...{ makeUpStated: false, correctedKits: [], unknownDoses: [], learntSince: null, hasDoser: false },
    };
    const { rate } = rateNow(data, 'alkalinity', dayZero + 91.01);
    expect(rate?.fromDay).toBe(dayZero + 84);
    expect(-(rate?.low ?? 0) / perDkh).toBeGreaterThan(0.15);
    expect(-(rate?.high ?? 0) / perDkh).toBeLessThan(0.15);
    expect(-(rate?.high ?? 0) / perDkh).toBeGreaterThan(0.05);
  });

  test('is not called steady where systems are told in words', () => {
    const points = until(91)
      .slice(-12)
      .map(
        (one): HistoryPoint => ({
          ...{
            systemId: one.systemId,
            quantityCode: 'alkalinity',
            at: onDay(one.day - dayZero),
            value: one.value,
          },
          ...{ below: false, above: false, uncertainty: one.u, kitId: null, trust: 'plain' },
        }),
      );
    expect(steadinessWords(points, [], quantity, onDay(91.1))).toBe(
      'falls steadily by 0.15 dKH a day for 7 days',
    );
  });
});

describe('the newest run of readings', () => {
  const of = (values: readonly number[], u = 0.1) =>
    newestRun(values.map((value, day) => ({ day, value, u })));

  test('has the slope of a straight line, its errors by least squares, and the day on which it began', () => {
    // Eight days 0..7: the sum of squares about their mean is 42; SD of the slope 0.1/sqrt(42), of the level at the end
    // 0.1 sqrt(1/8 + 3.5²/42) (any textbook on the straight line).
    const run = of([8, 8, 8, 8, 8, 7.8, 7.6, 7.4, 7.2, 7, 6.8, 6.6].slice(4));
    expect(run?.slope).toBeCloseTo(-0.2, 9);
    expect(run?.slopeSd).toBeCloseTo(0.1 / Math.sqrt(42), 9);
    expect(run?.levelSd).toBeCloseTo(0.1 * Math.sqrt(1 / 8 + 3.5 ** 2 / 42), 9);
    expect(of([7, 7, 8, 7.8, 7.6, 7.4, 7.2, 7, 6.8])).toMatchObject({ changed: true });
  });

  test('is none in steady water, of a single step, of few tests, or of a move within the tests’ error', () => {
    expect(of([8, 8.1, 7.9, 8.1, 8, 7.9, 8.1, 8])).toBeNull();
    expect(of([8, 8.1, 7.9, 8, 7.2, 7.1, 7.3, 7.2])).toBeNull();
    expect(of([8, 7.8, 7.6, 7.4, 7.2])).toBeNull();
    expect(of([8, 7.97, 7.94, 7.91, 7.88, 7.85, 7.82])).toBeNull();
  });
});

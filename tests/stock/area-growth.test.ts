import { describe, expect, test } from 'vitest';
import { areaGrowth, discLength, growthFrom, lengthRate } from '../../src/stock/growth/areas.rules.ts';
import { growingLot } from '../../src/stock/growth/forecast.rules.ts';
import { growthOf } from '../../src/stock/growth/growth.rules.ts';

const day = (n: number) => new Date(Date.UTC(2026, 0, 1 + n));
/** Eight weekly photographs of a piece whose area grows by 1 % a day. */
const seen = Array.from({ length: 8 }, (_, i) => ({
  ...{ at: day(7 * i), mm2: 300 * Math.exp(0.01 * 7 * i), cameraKnown: true },
}));

describe('growth by areas in photographs', () => {
  test('is the specific rate of the area, and half of it that of a length', () => {
    const growth = areaGrowth(seen, null);
    if (!growth.told) throw new Error(growth.why);
    expect(growth.days).toBe(49);
    expect(growth.growth.perDay).toBeCloseTo(0.01, 10);
    expect(lengthRate(growth.growth).perDay).toBeCloseTo(0.005, 10);
    const length = growthFrom(growth, { value: Math.log(20), sd: 0.05 });
    expect(length.doublingDays).toBeCloseTo(2 * Math.LN2 * 100, 6);
    expect(length.fit.level).toBe(Math.log(20));
  });

  test('is not told by few, by a short time, within 60 days of a cut, or by photographs that are unlike', () => {
    expect(areaGrowth(seen.slice(0, 3), null).told).toBe(false);
    expect(areaGrowth(seen.slice(0, 4), null).told).toBe(false);
    expect(areaGrowth(seen, day(-5)).told).toBe(false);
    expect(areaGrowth([], null).told).toBe(false);
    const unlike = seen.map((one, i) => ({
      ...one,
      cameraKnown: i % 2 === 0,
      mm2: one.mm2 * (i % 2 === 0 ? 1 : 1.4),
    }));
    const growth = areaGrowth(unlike, null);
    expect(growth.told && growth.growth.perDay).toBeCloseTo(0.01, 10);
  });

  test('stands in where sizes by hand do not tell: hand first, then photographs, then the kind', () => {
    const sizes = [{ at: day(10), measure: 'length_mm' as const, sizes: [20] }];
    const measured = [...sizes, { at: day(50), measure: 'length_mm' as const, sizes: [25] }];
    const kind = { perDay: 0.002, sd: 0.001, lots: 3, days: 90 };
    const rate = { perDay: 0.005, sd: 0.0005, days: 49 };
    const length = discLength(seen);
    const of = (all: typeof sizes, by: { rate: typeof rate | null; length: typeof length }) =>
      growingLot(
        { pieces: 4, sizes: all, growth: growthOf(all, 'length_mm', null), saleSize: 40 },
        kind,
        day(52),
        by,
      );
    expect(of(measured, { rate, length })?.rate.perDay).toBeCloseTo(Math.log(25 / 20) / 40, 6);
    expect(of(sizes, { rate, length })).toMatchObject({ rate: { perDay: 0.005 }, carries: 49, age: 42 });
    expect(of(sizes, { rate: null, length })?.rate.perDay).toBe(0.002);
    // Without a size by hand it is as long as a disc of its area, and less sure.
    const none = of([], { rate, length });
    expect(Math.exp(none?.level ?? 0)).toBeCloseTo(2 * Math.sqrt((300 * Math.exp(0.49)) / Math.PI), 6);
    expect(none?.levelSd).toBeGreaterThan(of(sizes, { rate, length })?.levelSd ?? 1);
    expect(of([], { rate, length: null })).toBeNull();
  });
});

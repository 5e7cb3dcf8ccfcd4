import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { daysToSize, growthRate, sizeOn } from '../../src/science/growth.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

describe('growth of a chick over 21 days (R datasets, ChickWeight)', () => {
  const line = published('specific growth rate and forecast', 'straight line of ln(mass), numpy 2.4.6', 1e-9);
  const expected = new Map(
    referenceTable('growth_chick_fit').map((row) => [text(row, 'quantity'), num(row, 'value')]),
  );
  const value = (quantity: string) => expected.get(quantity) ?? Number.NaN;
  const chick = referenceTable('growth_chick').map((row) => ({
    day: num(row, 'day'),
    size: num(row, 'grams'),
  }));
  // Stated as surer than they are: the scatter of the masses themselves decides.
  const growth = growthRate(chick, 0.01);

  it('has the rate and its error', () => {
    line.check(growth.perDay, value('rate per day'));
    line.check(growth.sd, value('SD of the rate'));
    line.check(growth.doublingDays ?? Number.NaN, Math.LN2 / value('rate per day'));
  });

  it('has the size on day 30 with its interval', () => {
    const forecast = sizeOn(growth, 30);
    line.check(forecast.size, value('size on day 30'));
    line.check(forecast.low, value('lower 95 %'));
    line.check(forecast.high, value('upper 95 %'));
    expect(forecast.extrapolated).toBe(false);
  });

  it('marks what lies far beyond the measurements', () => {
    expect(sizeOn(growth, 50).extrapolated).toBe(true);
    expect(sizeOn(growth, -1).extrapolated).toBe(true);
  });

  it('reaches a size on the day the forecast has it', () => {
    const { days, earliest, latest } = daysToSize(growth, 400);
    expect(sizeOn(growth, 21 + (days ?? Number.NaN)).size).toBeCloseTo(400, 6);
    expect(earliest).toBeLessThan(days ?? 0);
    expect(latest).toBeGreaterThan(days ?? Infinity);
  });
});

describe('specific growth rate', () => {
  it('of two sizes is ln(b/a)/days (Hopkins 1992)', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 100, noNaN: true }),
        fc.double({ min: 1, max: 100, noNaN: true }),
        fc.integer({ min: 1, max: 400 }),
        (a, b, days) => {
          const growth = growthRate([
            { day: 0, size: a },
            { day: days, size: b },
          ]);
          expect(growth.perDay).toBeCloseTo(Math.log(b / a) / days, 9);
          expect(sizeOn(growth, days).size).toBeCloseTo(b, 6);
          expect(growth.doublingDays === null).toBe(growth.perDay <= 0);
        },
      ),
    );
  });

  it('of 50 g that became 100 g in 10 days is 6.931 % a day (as lessons of aquaculture print it)', () => {
    const growth = growthRate([
      { day: 0, size: 50 },
      { day: 10, size: 100 },
    ]);
    expect(100 * growth.perDay).toBeCloseTo(6.931, 3);
  });

  it('does not depend on the unit of size', () => {
    const sizes = [10, 14, 13, 19].map((size, i) => ({ day: 30 * i, size }));
    const inches = sizes.map((m) => ({ ...m, size: m.size / 25.4 }));
    expect(growthRate(inches).perDay).toBeCloseTo(growthRate(sizes).perDay, 12);
  });

  it('never reaches a size when it does not grow', () => {
    const still = growthRate([0, 30, 60].map((day) => ({ day, size: 20 })));
    expect(daysToSize(still, 30)).toMatchObject({ days: null, latest: null });
  });

  it('refuses a size of 0 and a single measurement', () => {
    expect(() => growthRate([{ day: 0, size: 0 }])).toThrow('size 0 must be above 0');
    expect(() => growthRate([{ day: 0, size: 5 }])).toThrow('number of readings 1 is outside');
  });
});

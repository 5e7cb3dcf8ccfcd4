import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type ChangeHabit,
  changeSeries,
  fractionForCeiling,
  productionPerDay,
  steadyLevel,
} from '../../../src/science/dilution.ts';
import { published } from '../../support/published.ts';

const accumulation = published(
  'steady level under production',
  'accumulation on repeated dosing, 1 / (share removed)',
  1e-12,
);

const habits: fc.Arbitrary<ChangeHabit> = fc.record({
  fraction: fc.double({ min: 0.05, max: 0.9, noNaN: true }),
  intervalDays: fc.double({ min: 1, max: 30, noNaN: true }),
  fresh: fc.double({ min: 0, max: 10, noNaN: true }),
  productionPerDay: fc.double({ min: 0.01, max: 3, noNaN: true }),
});

describe('the level that a habit of changes tends to', () => {
  it('is the production of one interval over the share removed, as doses taken once a half-life add up to two', () => {
    const level = steadyLevel({ fraction: 0.5, intervalDays: 7, fresh: 0, productionPerDay: 1 / 7 });
    accumulation.check(level.beforeChange, 2);
    accumulation.check(level.afterChange, 1);
    accumulation.check(level.mean, 1.5);
    accumulation.check(
      steadyLevel({ fraction: 0.1, intervalDays: 7, fresh: 0, productionPerDay: 1 / 7 }).beforeChange,
      10,
    );
  });

  it('is where a long series of changes ends', () => {
    fc.assert(
      fc.property(habits, fc.double({ min: 0, max: 50, noNaN: true }), (habit, start) => {
        const last = changeSeries(start, habit, 1000).at(-1);
        expect(last?.before).toBeCloseTo(steadyLevel(habit).beforeChange, 6);
        expect(last?.after).toBeCloseTo(steadyLevel(habit).afterChange, 6);
      }),
    );
  });

  it('is kept under a ceiling by the fraction that is asked for', () => {
    fc.assert(
      fc.property(habits, (habit) => {
        const ceiling = steadyLevel(habit).beforeChange;
        const { fresh, productionPerDay: made, intervalDays } = habit;
        expect(fractionForCeiling(ceiling, fresh, made, intervalDays)).toBeCloseTo(habit.fraction, 9);
      }),
    );
  });

  it('says when no habit can keep it', () => {
    expect(() => fractionForCeiling(10, 0, 3, 7)).toThrow(
      'even a whole change every 7 d cannot keep the level under 10',
    );
    expect(() => fractionForCeiling(5, 5, 1, 7)).toThrow("the ceiling 5 must lie above the fresh water's 5");
    expect(() => steadyLevel({ fraction: 0.1, intervalDays: 7, fresh: 12, productionPerDay: -0.25 })).toThrow(
      RangeError,
    );
  });

  it('falls short where a weekly tenth of salt mix meets a growing demand', () => {
    // 1.75 dKH are used in a week, 10 % of water of 12 dKH returns 0.3 at 9 dKH.
    const [step] = changeSeries(
      9 + 1.75,
      { fraction: 0.1, intervalDays: 7, fresh: 12, productionPerDay: -0.25 },
      1,
    );
    expect(step?.before).toBeCloseTo(9, 12);
    expect(step?.after).toBeCloseTo(9.3, 12);
  });
});

describe('the production behind two levels', () => {
  it('is what the series was made with', () => {
    fc.assert(
      fc.property(habits, fc.integer({ min: 1, max: 12 }), (habit, count) => {
        const series = changeSeries(8, habit, count);
        const last = series.at(-1) as { day: number; after: number };
        const changes = series.map(({ day }) => ({ day, fraction: habit.fraction, fresh: habit.fresh }));
        const days = last.day + 3;
        const level = last.after + 3 * habit.productionPerDay;
        expect(productionPerDay(8, level, days, changes)).toBeCloseTo(habit.productionPerDay, 8);
      }),
    );
  });

  it('is the plain slope with no change between', () => {
    expect(productionPerDay(5, 8, 10, [])).toBeCloseTo(0.3, 12);
  });

  it('cannot be told right after everything was changed, or with changes out of order', () => {
    expect(() => productionPerDay(5, 0, 10, [{ day: 10, fraction: 1, fresh: 0 }])).toThrow('cannot be told');
    const swapped = [
      { day: 6, fraction: 0.1, fresh: 0 },
      { day: 2, fraction: 0.1, fresh: 0 },
    ];
    expect(() => productionPerDay(5, 4, 10, swapped)).toThrow(
      'day of a change, in order 2 d is outside 6 to 10 d',
    );
  });
});

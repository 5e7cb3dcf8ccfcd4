import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dosingPlan, gramsForRise, riseFromGrams } from '../../../src/science/dosing.ts';
import { convert } from '../../../src/science/units.ts';
import { published } from '../../support/published.ts';

const total = published(
  'grams of a whole plan',
  '3.00 g NaHCO3 raise 100 L by 1 dKH (IUPAC weights 2021: 2.99609)',
  1e-5,
);

const dkh = (value: number) => convert('alkalinity', value, 'dKH', 'meq/L');

describe('a plan of daily doses', () => {
  const perMeq = gramsForRise('sodium-bicarbonate', 'alkalinity', 1, 500);
  const plan = dosingPlan({ current: dkh(6.5), target: dkh(9), maxRisePerDay: dkh(1) }, perMeq);

  it('takes as few even days as the cap allows, and retests every second and the last', () => {
    expect(plan.map((step) => step.day)).toEqual([0, 1, 2]);
    expect(plan.map((step) => step.retest)).toEqual([false, true, true]);
    expect(plan.at(-1)?.expectedAfter).toBe(dkh(9));
  });

  it('adds up to the whole correction', () => {
    total.check(
      plan.reduce((sum, step) => sum + step.amount, 0),
      2.99609 * 5 * 2.5,
    );
  });

  it('makes up the daily use on top, without the level rising faster', () => {
    const used = dosingPlan({ current: 2, target: 3, maxRisePerDay: 0.3, usePerDay: 0.2 }, perMeq);
    let level = 2;
    for (const step of used) {
      level += (riseFromGrams('sodium-bicarbonate', step.amount, 500).alkalinity ?? Number.NaN) - 0.2;
      expect(level).toBeCloseTo(step.expectedAfter, 9);
    }
  });

  it('never passes the cap or the target', () => {
    const level = fc.double({ min: 0, max: 5, noNaN: true });
    fc.assert(
      fc.property(level, level, fc.double({ min: 0.1, max: 1, noNaN: true }), (a, b, cap) => {
        const [current, target] = [Math.min(a, b), Math.max(a, b)];
        fc.pre(target - current > 1e-6);
        let before = current;
        for (const step of dosingPlan({ current, target, maxRisePerDay: cap }, 1)) {
          expect(step.expectedAfter - before).toBeLessThanOrEqual(cap * (1 + 1e-6));
          expect(step.expectedAfter).toBeLessThanOrEqual(target);
          before = step.expectedAfter;
        }
        expect(before).toBe(target);
      }),
    );
  });

  it('is empty at the target, and refused downwards or without end', () => {
    expect(dosingPlan({ current: 3, target: 3, maxRisePerDay: 0.3 }, 1)).toEqual([]);
    expect(() => dosingPlan({ current: 3, target: 2, maxRisePerDay: 0.3 }, 1)).toThrow(
      'a dose cannot bring 3 down to 2',
    );
    expect(() => dosingPlan({ current: 3, target: 900, maxRisePerDay: 0.3 }, 1)).toThrow('days of the plan');
    expect(() => dosingPlan({ current: 3, target: Number.NaN, maxRisePerDay: 0.3 }, 1)).toThrow(RangeError);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { afterWaterChange, fractionForCeiling } from '../../../src/science/dilution.ts';
import { published } from '../../support/published.ts';

const accumulation = published(
  'steady level under production',
  'accumulation on repeated dosing, 1 / (share removed)',
  1e-12,
);

describe('the fraction that keeps a level under a ceiling', () => {
  it('is the share that doses leave behind: taken once a half-life they add up to two', () => {
    accumulation.check(fractionForCeiling(2, 0, 1 / 7, 7), 0.5);
    accumulation.check(fractionForCeiling(10, 0, 1 / 7, 7), 0.1);
  });

  it('holds the level just before each change at the ceiling for ever', () => {
    const habit = fc.record({
      fresh: fc.double({ min: 0, max: 10, noNaN: true }),
      above: fc.double({ min: 0.5, max: 40, noNaN: true }),
      production: fc.double({ min: 0.01, max: 3, noNaN: true }),
      intervalDays: fc.double({ min: 1, max: 30, noNaN: true }),
    });
    fc.assert(
      fc.property(habit, ({ fresh, above, production, intervalDays }) => {
        fc.pre(production * intervalDays < above);
        const ceiling = fresh + above;
        const fraction = fractionForCeiling(ceiling, fresh, production, intervalDays);
        const next = afterWaterChange(ceiling, fresh, fraction) + production * intervalDays;
        expect(next).toBeCloseTo(ceiling, 9);
      }),
    );
  });

  it('says when no habit can keep it', () => {
    expect(() => fractionForCeiling(10, 0, 3, 7)).toThrow(
      'even a whole change every 7 d cannot keep the level under 10',
    );
    expect(() => fractionForCeiling(5, 5, 1, 7)).toThrow("the ceiling 5 must lie above the fresh water's 5");
  });
});

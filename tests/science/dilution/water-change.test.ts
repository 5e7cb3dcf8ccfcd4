import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { afterWaterChange, afterWaterChanges, changesToReach } from '../../../src/science/dilution.ts';
import { published } from '../../support/published.ts';

const worked = published(
  'water change, worked examples',
  "keepers' worked examples: 10 % of 12 into 9 dKH, 30 % of 12 into 8",
  1e-12,
);
const washout = published('water changed in many small parts', 'washout of a mixed vessel, printed exp(-v)', {
  absolute: 5e-5,
});
const serial = published('repeated change', 'serial twofold dilution', 1e-12);

const level = fc.double({ min: 0.1, max: 100, noNaN: true });
const fraction = fc.double({ min: 0.01, max: 0.9, noNaN: true });

describe('a water change', () => {
  it('moves the water towards the fresh water by its fraction', () => {
    worked.check(afterWaterChange(9, 12, 0.1), 9.3);
    worked.check(afterWaterChange(8, 12, 0.3), 9.2);
  });

  it('repeated halves what is left each time', () => {
    [1, 2, 4, 8, 16].forEach((parts, count) => {
      serial.check(afterWaterChanges(64, 0, 0.5, count), 64 / parts);
    });
  });

  it('in many small parts is the washout of a mixed vessel', () => {
    for (const [volumes, left] of [
      [0.5, 0.6065],
      [1, 0.3679],
      [2, 0.1353],
      [3, 0.0498],
    ] as const)
      washout.check(afterWaterChanges(1, 0, volumes / 50_000, 50_000), left);
  });

  it('in one piece does more than the same volume in parts', () => {
    fc.assert(
      fc.property(level, fraction, fc.integer({ min: 2, max: 20 }), (start, whole, count) => {
        expect(afterWaterChange(start, 0, whole)).toBeLessThan(
          afterWaterChanges(start, 0, whole / count, count),
        );
      }),
    );
  });

  it('never leaves the span between the water and the fresh water', () => {
    fc.assert(
      fc.property(level, level, fraction, fc.integer({ min: 0, max: 50 }), (start, fresh, part, count) => {
        const result = afterWaterChanges(start, fresh, part, count);
        expect(result).toBeGreaterThanOrEqual(Math.min(start, fresh) - 1e-9);
        expect(result).toBeLessThanOrEqual(Math.max(start, fresh) + 1e-9);
      }),
    );
  });
});

describe('the changes to reach a target', () => {
  it('are as many as needed, not one more', () => {
    expect(changesToReach(40, 0, 10, 0.5)).toBe(2);
    expect(changesToReach(40, 0, 10, 0.25)).toBe(5);
    expect(changesToReach(40, 0, 40, 0.25)).toBe(0);
    expect(changesToReach(40, 0, 0, 1)).toBe(1);
  });

  it('reach it, and one fewer would not', () => {
    fc.assert(
      fc.property(level, fraction, fc.double({ min: 0.05, max: 0.95, noNaN: true }), (start, part, left) => {
        const count = changesToReach(start, 0, start * left, part);
        expect(afterWaterChanges(start, 0, part, count)).toBeLessThanOrEqual(start * left * (1 + 1e-6));
        expect(afterWaterChanges(start, 0, part, count - 1)).toBeGreaterThan(start * left);
      }),
    );
  });

  it('do not exist beyond the fresh water', () => {
    expect(() => changesToReach(40, 5, 4, 0.25)).toThrow("4 does not lie between 40 and the fresh water's 5");
    expect(() => changesToReach(40, 5, 5, 0.25)).toThrow('water changes come near 5, never to it');
    expect(() => afterWaterChange(Number.NaN, 0, 0.1)).toThrow(RangeError);
    expect(() => afterWaterChange(10, 0, 1.1)).toThrow('fraction changed 1.1 is outside 0 to 1');
  });
});

import { describe, expect, it } from 'vitest';
import {
  afterMixing,
  largestExchange,
  salinityAfterEvaporation,
  salinityAfterFreshWater,
  salinityAfterOverflow,
} from '../../../src/science/dilution.ts';

describe('mixing', () => {
  it('gives 22.0 for 30 % at 15 degC into 25 degC, and 27.5 for 25 % at 20 into 30', () => {
    expect(afterMixing(25, 15, 0.3)).toBeCloseTo(22, 12);
    expect(afterMixing(30, 20, 0.25)).toBeCloseTo(27.5, 12);
  });

  it('allows a tenth at once for a degree between waters ten degrees apart', () => {
    expect(largestExchange(25, 15, 1)).toBeCloseTo(0.1, 12);
    expect(largestExchange(25, 25, 1)).toBe(1);
  });
});

describe('salinity after fresh water', () => {
  it('falls by dilution, faster without an overflow than by as much running over', () => {
    expect(salinityAfterFreshWater(35, 1000, 250)).toBeCloseTo(28, 12);
    expect(salinityAfterOverflow(35, 1000, 250)).toBeCloseTo(35 * Math.exp(-0.25), 12);
  });

  it('rises to 35.9 after three days and 37.3 after seven when 8.6 L a day are not topped up in 1,000 L', () => {
    expect(salinityAfterEvaporation(35, 1000, 3 * 8.6)).toBeCloseTo(35.9, 1);
    expect(salinityAfterEvaporation(35, 1000, 7 * 8.6)).toBeCloseTo(37.2, 1);
  });
});

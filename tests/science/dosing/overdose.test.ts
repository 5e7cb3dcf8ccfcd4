import { describe, expect, it } from 'vitest';
import { carbonateFromPh } from '../../../src/science/carbonate.ts';
import { afterLimewater, carbonDioxideG, limewaterFromPh, limewaterL } from '../../../src/science/dosing.ts';

const water = { salinity: 35, temperatureDegC: 25, alkalinityUmolKg: (8 / 2.8) * (1e6 / 1023.34) };

describe('a slug of limewater in 8 dKH', () => {
  // Worked out apart with the same constants before any carbon dioxide came in: meq/L, pH from 8.0 and 8.2, saturation.
  it.each([
    [0.1, 8.13, 8.3, 4.9],
    [0.5, 8.48, 8.61, 9.9],
    [1, 8.8, 8.92, 17],
    [1.94, 9.33, 9.49, 30],
    [2.5, 9.69, 9.86, 37],
  ])('of %f meq/L', (rise, fromLow, fromHigh, omega) => {
    const low = afterLimewater(water, 8, rise);
    expect(Math.abs(low.phTotal - fromLow)).toBeLessThan(0.012);
    expect(Math.abs(afterLimewater(water, 8.2, rise).phTotal - fromHigh)).toBeLessThan(0.012);
    expect(Math.abs(low.omegaAragonite / omega - 1)).toBeLessThan(0.04);
    expect(limewaterFromPh(water, 8, low.phTotal)).toBeCloseTo(rise, 6);
  });

  it('of 61 L in 1,000 L is 2.5 meq/L, and pH 9.7 tells 2.3 to 2.5', () => {
    expect(limewaterL(2.5, 1000, 40.8)).toBeCloseTo(61, 0);
    expect(limewaterFromPh(water, 8.2, 9.7)).toBeGreaterThan(2.2);
    expect(limewaterFromPh(water, 8, 9.7)).toBeLessThan(2.55);
    expect(() => limewaterFromPh(water, 7.5, 9.9)).toThrow('3 meq/L of limewater do not bring pH 9.9');
  });

  it.each([
    // meq/L, grams for 1,000 L to pH 8.3 and to 8.5, from 8.1
    [0.5, 12, 2],
    [1, 30, 20],
    [1.94, 66, 53],
    [2.5, 87, 72],
  ])('of %f meq/L needs carbon dioxide', (rise, toLow, toHigh) => {
    const { phTotal, alkalinityUmolKg } = afterLimewater(water, 8.1, rise);
    const after = { ...water, alkalinityUmolKg };
    expect(Math.abs(carbonDioxideG(after, phTotal, 8.3, 1000) - toLow)).toBeLessThan(1.2);
    expect(Math.abs(carbonDioxideG(after, phTotal, 8.5, 1000) - toHigh)).toBeLessThan(1.2);
    expect(carbonateFromPh(after, 8.3).dicUmolKg).toBeGreaterThan(0);
  });
});

import { describe, expect, it } from 'vitest';
import {
  MG_PER_UMOL_OXYGEN,
  oxygenHours,
  oxygenSaturationMgPerL,
  oxygenSaturationUmolKg,
  stillWaterHours,
} from '../../src/science/oxygen.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

const paper = published('oxygen at saturation, check value', 'Garcia & Gordon 1992, L&O 37, 1307', {
  absolute: 0.0005,
});
const table = published('oxygen at saturation', 'formula of Garcia & Gordon 1992, computed apart', {
  absolute: 0.005,
});

describe('oxygen at saturation', () => {
  it('is what the paper gives to check by, and what the formula gives elsewhere', () => {
    for (const row of referenceTable('oxygen_garcia_gordon_1992')) {
      const umolKg = oxygenSaturationUmolKg(num(row, 'salinity'), num(row, 'temperature_C'));
      (text(row, 'kind') === 'published' ? paper : table).check(umolKg, num(row, 'oxygen_umol_per_kg'));
    }
  });

  it('is 6.77 mg/L in a tank of 25 degC, and less in a warm one', () => {
    expect(oxygenSaturationMgPerL(35, 25)).toBeCloseTo(6.771, 3);
    expect(oxygenSaturationMgPerL(35, 31.5)).toBeCloseTo(6.09, 2);
    expect(MG_PER_UMOL_OXYGEN * 1000).toBeCloseTo(31.9988, 6);
    expect(() => oxygenSaturationUmolKg(35, 45)).toThrow('temperature 45 degC is outside 0 to 40 degC');
  });
});

describe('still water', () => {
  const tank = { salinity: 35, temperatureDegC: 25, depthM: 0.4 };
  const start = oxygenSaturationMgPerL(35, 25);

  it.each([
    // use mg/L/h, transfer cm/h, hours to 4 mg/L, hours to 2 mg/L: worked out apart from the same equation
    [0.2, 1, 17, 36],
    [0.2, 2.3, 28, Number.POSITIVE_INFINITY],
    [0.5, 1, 6.0, 10.9],
    [0.5, 2.3, 6.7, 13.8],
    [0.5, 5, 9.4, Number.POSITIVE_INFINITY],
    [1, 1, 2.9, 5.1],
    [1, 5, 3.4, 7.3],
    [2, 2.3, 1.4, 2.6],
  ])('that uses %f mg/L/h with %f cm/h of exchange reaches 4 and 2 mg/L', (use, cm, toFour, toTwo) => {
    const hours = (floor: number) => stillWaterHours(tank, start, floor, cm / 100, use);
    for (const [floor, expected] of [
      [4, toFour],
      [2, toTwo],
    ] as const) {
      if (Number.isFinite(expected))
        expect(Math.abs(hours(floor) - expected)).toBeLessThan(expected > 15 ? 0.6 : 0.08);
      else expect(hours(floor)).toBe(Number.POSITIVE_INFINITY);
    }
  });

  it('under a lid falls in a straight line', () => {
    expect(stillWaterHours(tank, start, 4, 0, 0.5)).toBeCloseTo((start - 4) / 0.5, 12);
  });

  it('is at the floor already where it starts under it', () => {
    expect(stillWaterHours(tank, 3.5, 4, 0.02, 1)).toBe(0);
  });

  it('gives an interval over what is not known, shorter from a low reading', () => {
    const full = oxygenHours(tank, 4);
    expect(full.soonest).toBeCloseTo(1.42, 1);
    expect(full.latest).toBeCloseTo(9.4, 1);
    expect(oxygenHours(tank, 4, 5).soonest).toBeLessThan(full.soonest);
  });
});

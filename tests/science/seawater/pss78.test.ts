import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  conductivityFromSalinity,
  STANDARD_CONDUCTIVITY_MS_PER_CM,
  salinityFromConductivity,
  salinityFromRatio,
} from '../../../src/science/seawater/pss78.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const unesco = published('PSS-78, check values', 'UNESCO Technical Papers in Marine Science 44, p.9', {
  absolute: 1e-6,
});
const table = published('PSS-78, ratio table', 'UNESCO Technical Papers in Marine Science 44', {
  absolute: 5e-5,
});
const forward = published('PSS-78, salinity from conductivity', 'GSW toolbox 3.6.16', 1e-6);
const backward = published('PSS-78, conductivity from salinity', 'GSW toolbox 3.6.16', 1e-6);

describe('practical salinity from the ratio Rt', () => {
  const rows = referenceTable('seawater_pss78_check').filter((row) => row.Rt_published !== '');

  it.each(rows)('Rt $Rt_published at $t68_degC degC (IPTS-68) is $S_published', (row) => {
    unesco.check(salinityFromRatio(num(row, 'Rt_published'), num(row, 't68_degC')), num(row, 'S_published'));
  });
});

describe('practical salinity from conductivity', () => {
  const surface = referenceTable('seawater_pss78_check').filter((row) => row.pressure_dbar === '0');

  it.each(surface)('ratio $conductivity_ratio_R at $t68_degC degC (IPTS-68) is $S_published', (row) => {
    const conductivity = num(row, 'conductivity_ratio_R') * STANDARD_CONDUCTIVITY_MS_PER_CM;
    table.check(salinityFromConductivity(conductivity, num(row, 't90_degC')), num(row, 'S_published'));
  });

  it('agrees with the library over 15 to 35 degC and salinity 20 to 42', () => {
    for (const row of referenceTable('seawater_SP_from_C')) {
      const salinity = num(row, 'SP');
      if (salinity > 42) continue;
      forward.check(salinityFromConductivity(num(row, 'C_mS_per_cm'), num(row, 't90_degC')), salinity);
    }
  });

  it('agrees with the library the other way', () => {
    for (const row of referenceTable('seawater_C_from_SP')) {
      backward.check(conductivityFromSalinity(num(row, 'SP'), num(row, 't90_degC')), num(row, 'C_mS_per_cm'));
    }
  });

  it('is undone by its inverse', () => {
    const salinities = fc.double({ min: 2.001, max: 41.999, noNaN: true });
    const temperatures = fc.double({ min: -2, max: 40, noNaN: true });
    fc.assert(
      fc.property(salinities, temperatures, (salinity, degC) => {
        expect(salinityFromConductivity(conductivityFromSalinity(salinity, degC), degC)).toBeCloseTo(
          salinity,
          10,
        );
      }),
    );
  });

  it('rises with conductivity and falls with temperature at one conductivity', () => {
    expect(salinityFromConductivity(53.1, 25)).toBeGreaterThan(salinityFromConductivity(53, 25));
    expect(salinityFromConductivity(53, 26)).toBeLessThan(salinityFromConductivity(53, 25));
  });

  it('is refused outside the scale', () => {
    expect(() => salinityFromConductivity(1, 25)).toThrow(/practical salinity .* is outside 2 to 42/);
    expect(() => salinityFromConductivity(50, 41)).toThrow('temperature 41 degC is outside -2 to 40 degC');
    expect(() => salinityFromConductivity(Number.NaN, 25)).toThrow(RangeError);
    expect(() => conductivityFromSalinity(43, 25)).toThrow('practical salinity 43 is outside 2 to 42');
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  salinityFromSpecificGravity,
  specificGravity,
} from '../../../src/science/seawater/specific-gravity.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const gravity = published('specific gravity', 'python-seawater 3.3.5 (EOS-80)', 1e-6);
const salinity = published('salinity from specific gravity', 'python-seawater 3.3.5 (EOS-80)', {
  absolute: 1e-4,
});

describe('specific gravity', () => {
  it('agrees with the library against water of the same temperature and of 4 degC', () => {
    for (const row of referenceTable('seawater_density_sg_table')) {
      const degC = num(row, 't90_degC');
      gravity.check(
        specificGravity(num(row, 'SP'), { sampleDegC: degC, waterDegC: degC }),
        num(row, 'SG_t_t_eos80'),
      );
      gravity.check(
        specificGravity(num(row, 'SP'), { sampleDegC: degC, waterDegC: 4 }),
        num(row, 'SG_t_4C_eos80'),
      );
    }
  });

  it.each([
    ['S_if_SG_is_t_t_eos80', (degC: number) => degC],
    ['S_if_SG_is_t_4C_eos80', () => 4],
  ])('gives the salinity that the library gives (%s)', (column, waterDegC) => {
    const rows = referenceTable('seawater_sg_to_salinity').filter(
      (row) => row[column] !== '' && num(row, column) <= 42,
    );
    for (const row of rows) {
      const sampleDegC = num(row, 't90_degC');
      const base = { sampleDegC, waterDegC: waterDegC(sampleDegC) };
      salinity.check(salinityFromSpecificGravity(num(row, 'SG'), base), num(row, column));
    }
  });

  it('1.0264 is one salinity at 25/25 and four units more at 25/4', () => {
    expect(salinityFromSpecificGravity(1.0264, { sampleDegC: 25, waterDegC: 25 })).toBeCloseTo(35.04, 1);
    expect(salinityFromSpecificGravity(1.0264, { sampleDegC: 25, waterDegC: 4 })).toBeCloseTo(39, 0);
  });

  it('is undone by its inverse at any pair of temperatures', () => {
    const degC = fc.double({ min: 0, max: 40, noNaN: true });
    fc.assert(
      fc.property(fc.double({ min: 0, max: 42, noNaN: true }), degC, degC, (value, sampleDegC, waterDegC) => {
        const base = { sampleDegC, waterDegC };
        expect(salinityFromSpecificGravity(specificGravity(value, base), base)).toBeCloseTo(value, 9);
      }),
    );
  });

  it('of no salinity is refused with the range that is', () => {
    expect(() => salinityFromSpecificGravity(0.99, { sampleDegC: 25, waterDegC: 25 })).toThrow(
      'specific gravity 0.99 is outside 1.0000 to 1.0317 (salinity 0 to 42 at 25/25 degC)',
    );
    expect(() => salinityFromSpecificGravity(Number.NaN, { sampleDegC: 25, waterDegC: 25 })).toThrow(
      RangeError,
    );
  });
});

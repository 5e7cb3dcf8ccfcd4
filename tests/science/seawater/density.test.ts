import { describe, expect, it } from 'vitest';
import { densityKgPerM3, pureWaterDensityKgPerM3 } from '../../../src/science/seawater/density.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const unesco = published('density, EOS-80', 'UNESCO Technical Papers in Marine Science 44, p.19-23', 1e-7);
const library = published('density, EOS-80', 'python-seawater 3.3.5', 1e-7);
const teos = published('density, EOS-80 against TEOS-10', 'GSW toolbox 3.6.16', 1e-5);

describe('density of seawater at the surface', () => {
  const rows = referenceTable('seawater_density_eos80_check').filter((row) => row.pressure_dbar === '0');

  it.each(rows)('salinity $S at $t68_degC degC (IPTS-68) is $rho_published_kg_m3', (row) => {
    unesco.check(densityKgPerM3(num(row, 'S'), num(row, 't90_degC')), num(row, 'rho_published_kg_m3'));
  });

  it('agrees with the library over 15 to 35 degC, in seawater and pure water', () => {
    for (const row of referenceTable('seawater_density_sg_table')) {
      const degC = num(row, 't90_degC');
      library.check(densityKgPerM3(num(row, 'SP'), degC), num(row, 'rho_eos80_kg_m3'));
      library.check(pureWaterDensityKgPerM3(degC), num(row, 'rho_pure_eos80_kg_m3'));
      teos.check(densityKgPerM3(num(row, 'SP'), degC), num(row, 'rho_teos10_kg_m3'));
    }
  });

  it('is refused outside the equation', () => {
    expect(() => densityKgPerM3(43, 25)).toThrow('practical salinity 43 is outside 0 to 42');
    expect(() => densityKgPerM3(35, 45)).toThrow('temperature 45 degC is outside -2 to 40 degC');
    expect(() => densityKgPerM3(Number.NaN, 25)).toThrow(RangeError);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  type BoronSource,
  type CarbonateSystem,
  carbonateFromDic,
  carbonateFromPh,
} from '../../../src/science/carbonate.ts';
import { num, type Row, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const fromPh = published('carbonate from alkalinity and pH', 'PyCO2SYS 1.8.3.4, S 30-38, 20-30 degC', 1e-3);
const fromPhToo = published('carbonate from alkalinity and pH', 'seacarb 3.3.4', 1e-3);
const fromDic = published('carbonate from alkalinity and DIC', 'PyCO2SYS 1.8.3.4, S 30-38, 20-30 degC', 1e-3);
const fromDicToo = published('carbonate from alkalinity and DIC', 'seacarb 3.3.4, mocsy', 1.5e-3);
const ph = published('pH from alkalinity and DIC', 'PyCO2SYS 1.8.3.4', { absolute: 3e-4 });

const COLUMNS: [string, keyof CarbonateSystem][] = [
  ['pCO2_uatm', 'pco2Uatm'],
  ['fCO2_uatm', 'fco2Uatm'],
  ['CO2aq_umol_kg', 'co2UmolKg'],
  ['HCO3_umol_kg', 'bicarbonateUmolKg'],
  ['CO3_umol_kg', 'carbonateUmolKg'],
  ['Omega_aragonite', 'omegaAragonite'],
  ['Omega_calcite', 'omegaCalcite'],
];

function waterOf(row: Row) {
  const boron: BoronSource = text(row, 'boron') === 'Lee2010' ? 'Lee 2010' : 'Uppstrom 1974';
  return {
    salinity: num(row, 'S'),
    temperatureDegC: num(row, 't_degC'),
    alkalinityUmolKg: num(row, 'TA_umol_kg'),
    boron,
  };
}

describe('the carbonate system from alkalinity and pH', () => {
  it('agrees with two libraries', () => {
    for (const row of referenceTable('carbonate_from_TA_pH')) {
      const result = carbonateFromPh(waterOf(row), num(row, 'pH_total'));
      fromPh.check(result.dicUmolKg, num(row, 'DIC_umol_kg'));
      for (const [column, name] of COLUMNS) fromPh.check(result[name], num(row, column), column);
      fromPhToo.check(result.dicUmolKg, num(row, 'DIC_seacarb'));
      fromPhToo.check(result.pco2Uatm, num(row, 'pCO2_seacarb'));
      fromPhToo.check(result.carbonateUmolKg, num(row, 'CO3_seacarb'));
      fromPhToo.check(result.omegaAragonite, num(row, 'Omega_aragonite_seacarb'));
    }
  });
});

describe('the carbonate system from alkalinity and dissolved carbon', () => {
  it('agrees with three libraries', () => {
    for (const row of referenceTable('carbonate_from_TA_DIC')) {
      const result = carbonateFromDic(waterOf(row), num(row, 'DIC_umol_kg'));
      ph.check(result.phTotal, num(row, 'pH_total'));
      for (const [column, name] of COLUMNS) fromDic.check(result[name], num(row, column), column);
      for (const library of ['seacarb', 'mocsy']) {
        fromDicToo.check(result.pco2Uatm, num(row, `pCO2_${library}`), library);
        fromDicToo.check(result.carbonateUmolKg, num(row, `CO3_${library}`), library);
      }
    }
  });

  it('leads back to the pH it came from, with or without phosphate', () => {
    const water = fc.record({
      salinity: fc.double({ min: 20, max: 42, noNaN: true }),
      temperatureDegC: fc.double({ min: 5, max: 35, noNaN: true }),
      alkalinityUmolKg: fc.double({ min: 1000, max: 5000, noNaN: true }),
      phosphateUmolKg: fc.double({ min: 0, max: 20, noNaN: true }),
    });
    fc.assert(
      fc.property(water, fc.double({ min: 7, max: 8.6, noNaN: true }), (sample, phTotal) => {
        const { dicUmolKg } = carbonateFromPh(sample, phTotal);
        expect(carbonateFromDic(sample, dicUmolKg).phTotal).toBeCloseTo(phTotal, 9);
      }),
    );
  });
});

describe('the species', () => {
  const sea = { salinity: 35, temperatureDegC: 25, alkalinityUmolKg: 2300 };

  it('add up to the dissolved carbon', () => {
    fc.assert(
      fc.property(fc.double({ min: 7, max: 8.8, noNaN: true }), (phTotal) => {
        const s = carbonateFromPh(sea, phTotal);
        expect(s.co2UmolKg + s.bicarbonateUmolKg + s.carbonateUmolKg).toBeCloseTo(s.dicUmolKg, 8);
      }),
    );
  });

  it('answer as they should: more pH, more carbonate and less carbon dioxide; more calcium, more saturation', () => {
    const [low, high] = [carbonateFromPh(sea, 7.9), carbonateFromPh(sea, 8.2)];
    expect(high.omegaAragonite).toBeGreaterThan(low.omegaAragonite);
    expect(high.pco2Uatm).toBeLessThan(low.pco2Uatm);
    expect(low.omegaCalcite).toBeGreaterThan(low.omegaAragonite);
    const more = carbonateFromPh({ ...sea, calciumUmolKg: 11_300 }, 8.2);
    expect(more.omegaAragonite / high.omegaAragonite).toBeCloseTo(11_300 / 10_284.57, 4);
    expect(carbonateFromPh({ ...sea, phosphateUmolKg: 10 }, 8.1).dicUmolKg).toBeLessThan(
      carbonateFromPh(sea, 8.1).dicUmolKg,
    );
  });

  it('are refused outside the range of the constants', () => {
    expect(() => carbonateFromPh({ ...sea, salinity: 10 }, 8)).toThrow(
      'practical salinity 10 is outside 19 to 43',
    );
    expect(() => carbonateFromPh({ ...sea, temperatureDegC: 40 }, 8)).toThrow(
      'temperature 40 degC is outside 2 to 35',
    );
    expect(() => carbonateFromPh(sea, 11)).toThrow('pH (total scale) 11 is outside 6 to 10');
    expect(() => carbonateFromPh(sea, Number.NaN)).toThrow(RangeError);
    expect(() => carbonateFromPh({ ...sea, alkalinityUmolKg: 120 }, 8.8)).toThrow(
      'leaves no carbonate at pH 8.8',
    );
    expect(() => carbonateFromDic(sea, 9000)).toThrow(/alkalinity with this carbon/);
  });
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  canonicalUnit,
  convert,
  convertDifference,
  possibleValue,
  QUANTITIES,
  type QuantityCode,
  unitsOf,
} from '../../../src/science/units.ts';
import { num, type Row, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

const alkalinity = published('alkalinity units', 'IUPAC atomic weights 2021; 1 dKH = 10 mg/L CaO', {
  absolute: 5e-7,
});
const nutrients = published('nutrient units', 'IUPAC atomic weights 2021', { absolute: 5e-7 });
const salinity = published('salinity in g/kg', 'Millero et al. 2008, Deep-Sea Research I 55', 1e-12);
const temperature = published('temperature scales', 'definition of the degree Fahrenheit', 1e-12);
const encyclopaedia = published('alkalinity units, printed', 'internetchemie.info, German degree', 3e-3);

const ALKALINITY_NAMES: Record<string, string> = { 'mg/L as CaCO3': 'mg/L CaCO3' };

/** Unit and quantity for the names used in the table of nutrient factors. */
const NUTRIENT_NAMES: Record<string, [QuantityCode, string]> = {
  'mg/L NO3': ['nitrate', 'mg/L'],
  'mg/L NO3-N': ['nitrate', 'mg/L N'],
  'mg/L NO2': ['nitrite', 'mg/L'],
  'mg/L NO2-N': ['nitrite', 'mg/L N'],
  'mg/L NH3': ['ammonia', 'mg/L NH3'],
  'mg/L NH3-N': ['ammonia', 'mg/L N'],
  'mg/L NH4': ['ammonia', 'mg/L NH4'],
  'mg/L NH4-N': ['ammonia', 'mg/L N'],
  'mg/L PO4': ['phosphate', 'mg/L'],
  'mg/L PO4-P': ['phosphate', 'mg/L P'],
  'mg/L SiO2': ['silicate', 'mg/L'],
  'mg/L SiO2-Si': ['silicate', 'mg/L Si'],
};

describe('alkalinity', () => {
  const known = new Set(unitsOf('alkalinity'));
  const name = (row: Row, column: string) => ALKALINITY_NAMES[text(row, column)] ?? text(row, column);
  const rows = referenceTable('alkalinity_conversions').filter(
    (row) => known.has(name(row, 'from')) && known.has(name(row, 'to')),
  );

  it.each(rows)('$from in $to', (row) => {
    alkalinity.check(convert('alkalinity', 1, name(row, 'from'), name(row, 'to')), num(row, 'factor'));
  });

  it('agrees with a printed table of the German degree to its digits', () => {
    encyclopaedia.check(convert('alkalinity', 1, 'dKH', 'mg/L CaCO3'), 17.8);
    encyclopaedia.check(convert('alkalinity', 1, 'dKH', 'meq/L'), 0.357);
  });
});

describe('nutrients', () => {
  const rows = referenceTable('nutrient_conversions').filter((row) => text(row, 'from') in NUTRIENT_NAMES);

  it.each(rows)('$from in $to', (row) => {
    const [code, from] = NUTRIENT_NAMES[text(row, 'from')] ?? ['nitrate', ''];
    const to = text(row, 'to').startsWith('umol/L') ? 'umol/L' : (NUTRIENT_NAMES[text(row, 'to')]?.[1] ?? '');
    nutrients.check(convert(code, 1, from, to), num(row, 'factor'));
  });

  it('are a thousand times as many in ug/L', () => {
    expect(convert('phosphate', 0.03, 'mg/L', 'ug/L')).toBeCloseTo(30, 12);
    expect(convert('phosphate', 1, 'ug/L P', 'mg/L')).toBeCloseTo(0.00306612, 8);
  });
});

describe('salinity', () => {
  it('in g/kg is Reference Salinity', () => {
    salinity.check(convert('salinity', 35, 'PSU', 'g/kg'), 35.16504);
  });

  it('as a specific gravity depends on the temperatures it is relative to (EOS-80)', () => {
    expect(convert('salinity', 35, 'PSU', 'SG 25/25')).toBeCloseTo(1.0264, 4);
    expect(convert('salinity', 35, 'PSU', 'SG 20/20')).toBeCloseTo(1.0266, 4);
    expect(convert('salinity', 35, 'PSU', 'SG 60F/60F')).toBeCloseTo(1.0269, 4);
    expect(convert('salinity', 35, 'PSU', 'SG 25/4')).toBeCloseTo(1.0234, 4);
    expect(convert('salinity', 35, 'PSU', 'SG 20/4')).toBeCloseTo(1.0248, 4);
  });

  it('as conductivity is taken at 25 degC', () => {
    expect(convert('salinity', 35, 'PSU', 'mS/cm')).toBeCloseTo(53.07, 2);
    expect(convert('salinity', 53070, 'uS/cm', 'PSU')).toBeCloseTo(35, 2);
  });
});

describe('temperature', () => {
  it.each([
    [32, 0],
    [212, 100],
    [-40, -40],
    [77, 25],
  ])('%d degF is %d degC', (degF, degC) => {
    temperature.check(convert('temperature', degF, 'degF', 'degC'), degC);
    temperature.check(convert('temperature', degC, 'degC', 'degF'), degF);
  });
});

describe('every quantity', () => {
  const codes = Object.keys(QUANTITIES) as QuantityCode[];
  const pairs = codes.flatMap((code) => unitsOf(code).map((unit) => ({ code, unit })));

  it.each(pairs)('$code comes back from $unit as it was', ({ code, unit }) => {
    const { usual } = QUANTITIES[code];
    fc.assert(
      fc.property(fc.double({ min: usual[0], max: usual[1], noNaN: true }), (value) => {
        const back = convert(
          code,
          convert(code, value, canonicalUnit(code), unit),
          unit,
          canonicalUnit(code),
        );
        expect(Math.abs(back - value)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(value), usual[1]));
      }),
    );
  });

  it.each(pairs)('$code rises in $unit when it rises', ({ code, unit }) => {
    const [low, high] = QUANTITIES[code].usual;
    const middle = (low + high) / 2;
    expect(convert(code, high, canonicalUnit(code), unit)).toBeGreaterThan(
      convert(code, middle, canonicalUnit(code), unit),
    );
    expect(possibleValue(code, convert(code, middle, canonicalUnit(code), unit), unit)).toBeDefined();
  });

  it.each(codes)('%s has no two units that are written alike', (code) => {
    const spellings = QUANTITIES[code].units.flatMap((unit) => unit.spellings);
    expect(new Set(spellings).size).toBe(spellings.length);
  });
});

describe('a difference', () => {
  it('leaves the zero of the scale out', () => {
    expect(convertDifference('temperature', 1, 'degC', 'degF')).toBe(1.8);
    expect(convertDifference('alkalinity', 1, 'meq/L', 'dKH')).toBeCloseTo(2.80385, 5);
  });

  it('in specific gravity is taken at a value', () => {
    expect(convertDifference('salinity', 0.001, 'SG 25/25', 'PSU', 1.026)).toBeCloseTo(1.31, 1);
    expect(() => convertDifference('salinity', 0.001, 'SG 25/25', 'PSU')).toThrow(
      'a difference in SG 25/25 or PSU needs the value it is at',
    );
  });
});

describe('what cannot be converted', () => {
  it('says so by name', () => {
    expect(() => convert('nitrate', 1, 'dKH', 'mg/L')).toThrow(
      /"dKH" is not a unit of nitrate \(its units: mg\/L, /,
    );
    expect(() => convert('gold', 1, 'mg/L', 'mg/L')).toThrow(/"gold" is not a known quantity/);
    expect(() => convert('calcium', Number.NaN, 'mg/L', 'mg/L')).toThrow(
      'calcium NaN mg/L is not a finite number',
    );
    expect(() => convert('salinity', 1.2, 'SG 25/25', 'PSU')).toThrow(
      /specific gravity 1.2 is outside 1.0000 to 1.0317/,
    );
    expect(() => convert('salinity', 1, 'PSU', 'mS/cm')).toThrow('practical salinity 1 is outside 2 to 42');
    expect(() => possibleValue('ph', 16.4, 'pH')).toThrow('pH 16.4 is outside 0 to 14');
    expect(() => possibleValue('alkalinity', 84, 'dKH')).toThrow(
      'alkalinity 84 dKH is outside 0 to 56.08 dKH',
    );
  });
});

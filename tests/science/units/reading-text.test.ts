import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  canonicalUnit,
  convert,
  parseReadingText,
  QUANTITIES,
  type QuantityCode,
  unitsOf,
} from '../../../src/science/units.ts';

const read = (text: string, quantity: QuantityCode, unit: string) => {
  const result = parseReadingText(text, quantity, unit);
  return result.ok ? [result.value, result.unit, result.censored] : result.reason;
};

describe('a reading with a decimal point or a decimal comma', () => {
  it.each([
    ['8.4', 8.4],
    ['8,4', 8.4],
    ['9,99', 9.99],
    ['32,56', 32.56],
    ['1.2', 1.2],
    [' 8.4 ', 8.4],
    ['0,350', 0.35],
    ['1e1', 10],
  ])('"%s" dKH is %d', (text, value) => {
    expect(read(text, 'alkalinity', 'dKH')).toEqual([value, 'dKH', null]);
  });

  it.each([
    ['1,350.5', 1350.5],
    ['1.350,5', 1350.5],
    ['1 350', 1350],
    ["1'350", 1350],
    ['1\u202f350', 1350],
    ['1350', 1350],
  ])('"%s" mg/L magnesium is %d', (text, value) => {
    expect(read(text, 'magnesium', 'mg/L')).toEqual([value, 'mg/L', null]);
  });

  it.each(['1,350', '1.350'])('"%s" in a magnesium column is asked about, the usual size first', (text) => {
    expect(parseReadingText(text, 'magnesium', 'mg/L')).toEqual({
      ok: false,
      reason: 'unclear number',
      message: `"${text}" can mean 1.35 or 1350; 1350 mg/L is the usual size: write it without a thousands mark`,
      candidates: [1350, 1.35],
    });
  });

  it('is taken as the decimal where the thousands are impossible', () => {
    expect(read('8,400', 'alkalinity', 'dKH')).toEqual([8.4, 'dKH', null]);
    expect(read('1,026', 'salinity', 'SG 25/25')).toEqual([1.026, 'SG 25/25', null]);
    expect(read('8,123', 'ph', 'pH')).toEqual([8.123, 'pH', null]);
  });

  it('is asked about where neither meaning is usual', () => {
    const result = parseReadingText('1,234', 'potassium', 'mg/L');
    expect(result).toMatchObject({ ok: false, candidates: [1.234, 1234] });
  });
});

describe('a value below detection', () => {
  it.each([
    ['<0.02', 0.02],
    ['< 0,02', 0.02],
    ['≤0.02', 0.02],
    ['ND<0.02', 0.02],
    ['n.d. (', undefined],
    ['ND', null],
    ['n.d.', null],
    ['N. D.', null],
    ['bdl', null],
    ['not detected', null],
  ])('"%s" keeps its limit %s', (text, limit) => {
    const expected = limit === undefined ? 'not a number' : [limit, 'mg/L', 'below'];
    expect(read(text, 'phosphate', 'mg/L')).toEqual(expected);
  });

  it('is not the same as zero, blank or a dash', () => {
    expect(read('0.00', 'phosphate', 'mg/L')).toEqual([0, 'mg/L', null]);
    expect(read('', 'phosphate', 'mg/L')).toBe('empty');
    expect(read('   ', 'phosphate', 'mg/L')).toBe('empty');
    expect(read('-', 'phosphate', 'mg/L')).toBe('not measured');
    expect(read('n/a', 'phosphate', 'mg/L')).toBe('not measured');
    expect(read('NaN', 'phosphate', 'mg/L')).toBe('not measured');
  });

  it('keeps its unit', () => {
    expect(read('<5 ppb P', 'phosphate', 'mg/L')).toEqual([5, 'ug/L P', 'below']);
  });

  it('with a limit of zero is asked about', () => {
    expect(read('ND<0.000', 'phosphate', 'mg/L')).toBe('impossible');
  });

  it('has a counterpart above the top of a scale', () => {
    expect(read('>100', 'nitrate', 'mg/L')).toEqual([100, 'mg/L', 'above']);
  });
});

describe('the unit written behind a number', () => {
  it.each<[string, QuantityCode, string, number, string]>([
    ['7.5 °dKH', 'alkalinity', 'meq/L', 7.5, 'dKH'],
    ['2.7 meq/l', 'alkalinity', 'dKH', 2.7, 'meq/L'],
    ['135 ppm CaCO3', 'alkalinity', 'dKH', 135, 'mg/L CaCO3'],
    ['135 mg/L as CaCO₃', 'alkalinity', 'dKH', 135, 'mg/L CaCO3'],
    ['2.2 mg/L N', 'nitrate', 'mg/L', 2.2, 'mg/L N'],
    ['2.2 mg/L (as N)', 'nitrate', 'mg/L', 2.2, 'mg/L N'],
    ['2.2 ppm NO3-N', 'nitrate', 'mg/L', 2.2, 'mg/L N'],
    ['10 ppm NO3', 'nitrate', 'mg/L N', 10, 'mg/L'],
    ['12 µg/L P', 'phosphate', 'mg/L', 12, 'ug/L P'],
    ['12 μg/l', 'phosphate', 'mg/L P', 12, 'ug/L P'],
    ['3 umol/L', 'nitrate', 'mg/L', 3, 'umol/L'],
    ['77 ℉', 'temperature', 'degC', 77, 'degF'],
    ['77 °F', 'temperature', 'degC', 77, 'degF'],
    ['25 C', 'temperature', 'degF', 25, 'degC'],
    ['35 ppt', 'salinity', 'SG 25/25', 35, 'PSU'],
    ['1.0264 SG 25/25', 'salinity', 'PSU', 1.0264, 'SG 25/25'],
    ['1.0269 sg 60F/60F', 'salinity', 'PSU', 1.0269, 'SG 60F/60F'],
    ['SG 1.0264', 'salinity', 'SG 20/20', 1.0264, 'SG 20/20'],
    ['53 mS/cm at 25 °C', 'salinity', 'PSU', 53, 'mS/cm'],
    ['53000 µS/cm at 25C', 'salinity', 'PSU', 53000, 'uS/cm'],
    ['pH 8.1', 'ph', 'pH', 8.1, 'pH'],
    ['120 umol/(m2 s)', 'par', 'umol/m2/s', 120, 'umol/m2/s'],
  ])('"%s" for %s', (text, quantity, defaultUnit, value, unit) => {
    expect(read(text, quantity, defaultUnit)).toEqual([value, unit, null]);
  });

  it('takes its chemical form from the default when it names only a mass', () => {
    expect(read('2.2 mg/L', 'nitrate', 'mg/L N')).toEqual([2.2, 'mg/L N', null]);
    expect(read('2.2 ppm', 'nitrate', 'mg/L')).toEqual([2.2, 'mg/L', null]);
  });

  it.each<[string, QuantityCode, string, string, RegExp]>([
    ['1.025 SG', 'salinity', 'PSU', 'unclear unit', /needs both its temperatures; write one of SG 25\/25/],
    ['1.026', 'salinity', 'PSU', 'unclear unit', /looks like a specific gravity/],
    ['51 mS/cm at 20C', 'salinity', 'PSU', 'unclear unit', /compensated to 25 degC/],
    ['135 ppm', 'alkalinity', 'dKH', 'unclear unit', /"ppm" of what\? write mg\/L CaCO3/],
    ['12 mg/L', 'nitrate', 'umol/L', 'unclear unit', /of what\?/],
    [
      '12.5 mg',
      'calcium',
      'mg/L',
      'unknown unit',
      /"mg" is not a unit of calcium; write one of mg\/L, ug\/L/,
    ],
    ['8.4 um', 'alkalinity', 'dKH', 'unknown unit', /is not a unit of alkalinity/],
    ['8.4?', 'alkalinity', 'dKH', 'unclear number', /is marked as doubtful/],
    ['5-10', 'nitrate', 'mg/L', 'not a number', /more than one number/],
    ['ca. 8', 'alkalinity', 'dKH', 'not a number', /was not understood/],
    ['8..4', 'alkalinity', 'dKH', 'not a number', /was not understood/],
    ['1,2,3', 'alkalinity', 'dKH', 'not a number', /was not understood/],
    ['14.4', 'ph', 'pH', 'impossible', /pH 14.4 is outside 0 to 14; check the decimal mark/],
    ['84', 'alkalinity', 'dKH', 'impossible', /outside 0 to 56.08 dKH/],
    ['-3', 'nitrate', 'mg/L', 'impossible', /outside 0 to 1000 mg\/L/],
    ['78', 'temperature', 'degC', 'impossible', /outside -2 to 50 degC/],
  ])('"%s" for %s in %s is asked about (%s)', (text, quantity, unit, reason, message) => {
    const result = parseReadingText(text, quantity, unit);
    expect(result).toMatchObject({ ok: false, reason });
    expect(result.ok ? '' : result.message).toMatch(message);
  });
});

describe('whatever is typed', () => {
  const codes = Object.keys(QUANTITIES) as QuantityCode[];

  it('gives a finite value, a missing limit, or a question; it never throws', () => {
    fc.assert(
      fc.property(fc.string(), fc.constantFrom(...codes), (text, code) => {
        const result = parseReadingText(text, code, unitsOf(code)[0] ?? '');
        if (result.ok) expect(result.value === null || Number.isFinite(result.value)).toBe(true);
        else expect(result.message).not.toBe('');
      }),
    );
  });

  it('in any unit of the quantity, by its own code, is read back as it was written', () => {
    const units = codes.flatMap((code) => unitsOf(code).map((unit) => ({ code, unit })));
    expect(units.length).toBeGreaterThan(codes.length);
    for (const { code, unit } of units) {
      const [low, high] = QUANTITIES[code].usual;
      // Three digits in the middle of what is usual: possible in every unit, and no thousands mark.
      const value = Number(
        convert(code, (low + high) / 2, canonicalUnit(code), unit).toPrecision(unit.startsWith('SG') ? 4 : 3),
      );
      const result = parseReadingText(`${value} ${unit}`, code, unitsOf(code)[0] ?? '');
      expect(result, `${value} ${unit} for ${code}`).toMatchObject({ ok: true, value, unit });
    }
  });

  it('is refused loudly when the program names a unit that does not exist', () => {
    expect(() => parseReadingText('8.4', 'alkalinity', 'furlong')).toThrow(RangeError);
  });
});

import { describe, expect, test } from 'vitest';
import { parseFileUnit } from '../../../src/intake/file/units.rules.ts';

// SI symbols by the SI Brochure (9th edition): m is the metre, mol the mole. The other forms are common practice.

describe('the unit a file writes', () => {
  test.each([
    ['dKH', 'alkalinity', 'dKH', ''],
    ['meq/L', 'alkalinity', 'meq/L', ''],
    ['mg/L', 'nitrate', 'mg/L', ''],
    ['mg/L N', 'nitrate', 'mg/L N', ''],
    ['µg/L', 'iodine', 'ug/L', ''],
    ['uS/cm at 25C', 'salinity', 'uS/cm', 'at 25C'],
    ['µS/cm @ 25 °C', 'salinity', 'uS/cm', '@ 25 °C'],
  ])('"%s" of %s is %s, with the condition "%s"', (text, code, unit, condition) => {
    expect(parseFileUnit(text, code, unit)).toEqual({ unit, condition });
  });

  test.each([
    ['um/L', 'nitrate', 'mg/L', 'micrometre'],
    ['mm/L', 'nitrate', 'mg/L', 'millimetre'],
    ['%', 'calcium', 'mg/L', 'percentage'],
    ['ppm', 'alkalinity', 'dKH', 'ppm'],
    ['SG', 'salinity', 'PSU', 'both its temperatures'],
    ['uS/cm at 20C', 'salinity', 'PSU', 'compensated to 25 degC'],
    ['furlong', 'alkalinity', 'dKH', 'furlong'],
  ])('"%s" of %s is asked about, never guessed', (text, code, farmUnit, hint) => {
    const unit = parseFileUnit(text, code, farmUnit);
    expect('question' in unit ? unit.question : unit).toContain(hint);
  });
});

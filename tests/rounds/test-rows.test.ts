import { expect, test } from 'vitest';
import { typingRange } from '../../src/rounds/round/test-rows.ts';

const alkalinity = { code: 'alkalinity', canonicalUnit: 'meq/L' };
const temperature = { code: 'temperature', canonicalUnit: 'degC' };

// 1 dKH is 10 mg/L of CaO (DIN 38409-6, from memory): 10 / 56.077 mmol/L, or 0.35665 meq/L, by the IUPAC atomic weights of
// Ca and O; so 2.5 meq/L are 7.010 dKH.
test.each([
  [alkalinity, 'meq/L', 2.5, 3.5, { low: 2.5, high: 3.5 }],
  [alkalinity, 'dKH', null, 2.5, { low: null, high: 7.01 }],
  [temperature, 'degF', 25, 100, { low: 77, high: 212 }],
  [temperature, 'degC', null, null, { low: null, high: null }],
  [temperature, 'mg/L', 25, 26, null],
])('%o in %s, %s to %s', (quantity, unit, low, high, expected) => {
  expect(typingRange(quantity, unit, low, high)).toEqual(expected);
});

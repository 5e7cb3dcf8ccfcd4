import { describe, expect, test } from 'vitest';
import { number, optionalNumber, optionalWhole, whole } from '../../src/platform/web/fields.ts';

// In English "1,050" is a thousand and fifty, in German or Portuguese one and a twentieth; the SI brochure (9th edition, 5.4.4;
// from memory) therefore sets no mark between thousands. Pages here write "1,040.6".

const litres = { what: 'the amount', low: 0.001, high: 100_000, unit: 'mL' };
const said = (result: { success: boolean; data?: unknown; error?: { issues: { message: string }[] } }) =>
  result.success ? result.data : result.error?.issues[0]?.message;

describe('a comma before three figures', () => {
  test('is asked about where both numbers are within the range', () => {
    const question = '“1,050” can mean 1.05 or 1050. Write it without a thousands mark.';
    expect(said(number(litres).safeParse('1,050'))).toBe(question);
    expect(said(optionalNumber(litres).safeParse(' 1,050 '))).toBe(question);
    expect(said(number({ ...litres, low: -5000 }).safeParse('−1,000'))).toBe(
      '“-1,000” can mean -1 or -1000. Write it without a thousands mark.',
    );
  });

  test('is what fits where only one of them does', () => {
    expect(said(number({ ...litres, high: 500 }).safeParse('1,050'))).toBe(1.05);
    expect(said(number({ ...litres, low: 100 }).safeParse('1,050'))).toBe(1050);
  });

  test('parts thousands where a whole number is asked for', () => {
    expect(said(whole(litres).safeParse('1,000'))).toBe(1000);
    expect(said(optionalWhole(litres).safeParse('1,050'))).toBe(1050);
  });
});

test.each([
  ['1050', 1050],
  ['1,5', 1.5],
  ['1,05', 1.05],
  ['0,250', 0.25],
  ['1.050', 1.05],
  ['1,040.6', 1040.6],
  ['12 500', 12_500],
])('%s is read as %d', (text, value) => {
  expect(said(number(litres).safeParse(text))).toBe(value);
});

test.each(['1,05,0', '1.000.000', 'ten', ''])('“%s” is no number, and the range is said', (text) => {
  expect(said(number(litres).safeParse(text))).toBe('Enter the amount as a number from 0.001 to 100000 mL.');
});

import { describe, expect, test } from 'vitest';
import {
  decimalsOf,
  inputAmount,
  listCurrencies,
  parseAmount,
  priceWords,
} from '../../src/platform/words/money.ts';

describe('amounts of money', () => {
  // ISO 4217 list one, "minor unit" (from memory): EUR 2, JPY 0, KWD 3.
  test.each([
    ['12.50', 'EUR', 1250],
    ['12,5', 'EUR', 1250],
    ['€ 12', 'EUR', 1200],
    ['12 EUR', 'EUR', 1200],
    ['1,200', 'EUR', 120_000],
    ['1.200,50', 'EUR', 120_050],
    ["1'200.50", 'EUR', 120_050],
    ['1 200', 'JPY', 1200],
    ['1200.00', 'JPY', 1200],
    ['1.234', 'KWD', 1234],
    ['0', 'EUR', 0],
    ['12.505', 'EUR', null],
    ['1.200', 'EUR', null],
    ['1.200.000', 'EUR', 120_000_000],
    ['12.50 USD', 'EUR', null],
    ['-3', 'EUR', null],
    ['18,-', 'EUR', 1800],
    ['35.–', 'EUR', 3500],
    ['€ 5,--', 'EUR', 500],
    ['18,-5', 'EUR', null],
    ['1200.50', 'JPY', null],
    ['', 'EUR', null],
    ['99999999999', 'EUR', null],
  ])('“%s” in %s', (text, currency, minor) => {
    expect(parseAmount(text, currency)).toBe(minor);
  });

  test('what is written is read back', () => {
    for (const { value: currency } of listCurrencies()) {
      for (const minor of [0, 5, 123, 45_600, 7_654_321]) {
        expect(parseAmount(priceWords({ minor, currency }), currency), `${minor} ${currency}`).toBe(minor);
        expect(parseAmount(inputAmount({ minor, currency }), currency), `${minor} ${currency}`).toBe(minor);
      }
    }
    expect(decimalsOf('KWD')).toBe(3);
  });
});

import { describe, expect, it } from 'vitest';
import {
  finite,
  inRange,
  isWithin,
  notNegative,
  positive,
  wholeNumber,
} from '../../../src/science/numeric/range.ts';

describe('range checks', () => {
  it('hand the value back when it is in range, ends included', () => {
    expect(inRange(0, 0, 40, 'temperature', 'degC')).toBe(0);
    expect(inRange(40, 0, 40, 'temperature', 'degC')).toBe(40);
  });

  it('name the quantity, the value and the range when it is not', () => {
    expect(() => inRange(41, 0, 40, 'temperature', 'degC')).toThrow(
      new RangeError('temperature 41 degC is outside 0 to 40 degC'),
    );
    expect(() => inRange(1.2, 0, 1, 'fraction')).toThrow(new RangeError('fraction 1.2 is outside 0 to 1'));
  });

  it.each([Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY])(
    'refuse %s everywhere',
    (value) => {
      expect(() => inRange(value, -1e9, 1e9, 'value')).toThrow(RangeError);
      expect(() => finite(value, 'value')).toThrow(RangeError);
      expect(() => positive(value, 'value', 'L')).toThrow(RangeError);
      expect(() => notNegative(value, 'value')).toThrow(RangeError);
      expect(() => wholeNumber(value, 0, 10, 'value')).toThrow(RangeError);
      expect(isWithin(value, -1e9, 1e9)).toBe(false);
    },
  );

  it('tell zero from above zero', () => {
    expect(notNegative(0, 'dose', 'g')).toBe(0);
    expect(() => positive(0, 'volume', 'L')).toThrow('volume 0 L must be above 0');
    expect(() => notNegative(-1, 'dose', 'g')).toThrow('dose -1 g must be 0 or above');
  });

  it('tell whole numbers from others', () => {
    expect(wholeNumber(3, 1, 10, 'changes')).toBe(3);
    expect(() => wholeNumber(2.5, 1, 10, 'changes')).toThrow('changes 2.5 is not a whole number');
    expect(() => wholeNumber(11, 1, 10, 'changes')).toThrow(RangeError);
  });
});

import { describe, expect, test } from 'vitest';
import { fallOverSwing, logLikelihood } from '../../src/science/filter/fall-or-swing.ts';

const month = Array.from({ length: 30 }, (_, i) => i - 29);
const usual = { usualSwing: 0.12, wander: 0.6 };
const own = (day: number) => 0.1 * Math.sin(1.7 * day) + 0.05 * Math.cos(0.3 * day);
const tested = (level: (day: number) => number) =>
  month.map((day) => ({ day, value: Number((8.2 + level(day)).toFixed(2)), sd: 0.1 }));

const calm = tested(own);
const fell = tested((day) => own(day) - 0.1 * Math.max(0, day + 8));
const swung = tested((day) => own(day) * (day >= -9 ? 3.5 : 1));

describe('a fall against a swing that grew', () => {
  // Reference: the same model written in Python with numpy.linalg.cholesky and numpy.linalg.solve (NumPy), run once.
  test.each([
    ['a month that fell by 0.1 dKH a day for eight days', fell, 5.57],
    ['a month that swung 3.5 times as much for nine days', swung, -9.01],
    ['a calm month', calm, 0.17],
  ])('of %s is as an independent implementation has it', (_, tests, expected) => {
    expect(fallOverSwing(tests, usual, 1)).toBeCloseTo(expected, 1);
  });

  test('does not depend on the unit, nor on where the level stands', () => {
    const inMeq = fell.map(({ day, value, sd }) => ({ day, value: value * 0.357, sd: sd * 0.357 }));
    const other = { ...usual, usualSwing: usual.usualSwing * 0.357 };
    expect(fallOverSwing(inMeq, other, 0.357)).toBeCloseTo(fallOverSwing(fell, usual, 1), 6);
    const higher = fell.map((one) => ({ ...one, value: one.value + 3 }));
    expect(fallOverSwing(higher, usual, 1)).toBeCloseTo(fallOverSwing(fell, usual, 1), 6);
  });

  test('one slip of a test makes no fall', () => {
    const slipped = calm.map((one, i) => (i === 28 ? { ...one, value: one.value - 1.2 } : one));
    expect(fallOverSwing(slipped, usual, 1)).toBeLessThan(4);
  });

  test('fewer than three tests are refused', () => {
    expect(() => fallOverSwing(calm.slice(0, 2), usual, 1)).toThrow(RangeError);
  });
});

test('the likelihood of correlated values is that of a multivariate normal', () => {
  // Covariance 0.5^|i - j| and its lower triangle by hand; density by scipy.stats.multivariate_normal (SciPy), constant taken out.
  const lower = [[1], [0.5, Math.sqrt(0.75)], [0.25, 0.375 / Math.sqrt(0.75), Math.sqrt(0.75)]];
  expect(logLikelihood([0.3, -0.7, 1.1], lower, 0)).toBeCloseTo(-1.64065, 4);
});

import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  normalCdf,
  normalHazard,
  normalPdf,
  normalQuantile,
  normalTail,
  truncatedNormal,
} from '../../../src/science/statistics/normal.ts';
import { num, referenceTable, text } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

describe('normal distribution', () => {
  const rows = referenceTable('normal_tail');
  const tails = published('normal tail and hazard', 'mpmath 1.3.0, 30 digits', 1e-12);
  const density = published('normal density', 'NIST Digital Library 7.2, 1/sqrt(2 pi) by definition', 1e-12);
  const quantiles = published('normal quantile, inverse of the tail', 'mpmath 1.3.0, 30 digits', {
    absolute: 1e-9,
  });

  it.each(rows.map((row) => [num(row, 'z'), row] as const))('has the tail and hazard at z = %s', (z, row) => {
    tails.check(normalTail(z), num(row, 'tail_probability'));
    tails.check(normalHazard(z), num(row, 'hazard'));
    tails.check(normalCdf(-z), num(row, 'tail_probability'));
    density.check(normalPdf(z), num(row, 'hazard') * num(row, 'tail_probability'));
  });

  it.each(
    rows.filter((row) => num(row, 'z') >= -3).map((row) => [num(row, 'z'), num(row, 'tail_probability')]),
  )('finds z = %s again from its probability', (z, p) => {
    quantiles.check(normalQuantile(p), -z);
  });

  it('refuses probabilities of 0, 1 and NaN', () => {
    for (const p of [0, 1, -0.1, Number.NaN])
      expect(() => normalQuantile(p)).toThrow(/probability .* outside/);
  });
});

describe('truncated normal', () => {
  const moments = published('moments of a truncated normal', 'mpmath 1.3.0 and scipy 1.17.1 truncnorm', 1e-9);

  it.each(referenceTable('normal_truncated').map((row) => [JSON.stringify(row), row] as const))(
    '%s',
    (_, row) => {
      const side = text(row, 'side') === 'below' ? 'below' : 'above';
      const result = truncatedNormal(num(row, 'mean'), num(row, 'sd'), num(row, 'bound'), side);
      moments.check(result.mean, num(row, 'truncated_mean'));
      moments.check(result.variance, num(row, 'truncated_variance'));
    },
  );

  it('keeps the mean beyond the bound and never widens', () => {
    const finite = fc.double({ min: -1e3, max: 1e3, noNaN: true });
    fc.assert(
      fc.property(finite, fc.double({ min: 1e-3, max: 1e3, noNaN: true }), finite, (mean, sd, bound) => {
        const { mean: given, variance } = truncatedNormal(mean, sd, bound, 'below');
        expect(given).toBeLessThanOrEqual(bound + 1e-9 * Math.max(1, Math.abs(bound)));
        expect(variance).toBeGreaterThanOrEqual(0);
        expect(variance).toBeLessThanOrEqual(sd * sd);
      }),
    );
  });
});

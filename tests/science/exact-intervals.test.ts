import { describe, expect, it } from 'vitest';
import {
  binomialAtLeast,
  binomialInterval,
  poissonAtLeast,
  poissonInterval,
} from '../../src/science/statistics/exact-intervals.ts';
import { num, referenceTable, text } from '../support/csv.ts';
import { published } from '../support/published.ts';

describe('exact intervals', () => {
  const ends = published('exact intervals of shares and rates', 'scipy 1.17.1 and R documentation', 1e-6);

  it.each(referenceTable('exact_intervals').map((row) => [Object.values(row).join(' '), row] as const))(
    '%s',
    (_, row) => {
      const interval = text(row, 'distribution') === 'binomial' ? binomialInterval : poissonInterval;
      const { low, high } = interval(num(row, 'count'), num(row, 'of'), num(row, 'level'));
      ends.check(low, num(row, 'low'));
      ends.check(high, num(row, 'high'));
    },
  );

  // Printed with five decimals, so that each end may be off by half of the last.
  const printed = published(
    'exact intervals of a share, as printed',
    'NIST e-Handbook 7.2.4.2 and Boost.Math documentation',
    { absolute: 5e-6 },
  );
  it.each(
    referenceTable('exact_intervals_published').map((row) => [Object.values(row).join(' '), row] as const),
  )('%s', (_, row) => {
    const { low, high } = binomialInterval(num(row, 'count'), num(row, 'of'), num(row, 'level'));
    printed.check(low, num(row, 'low'));
    printed.check(high, num(row, 'high'));
  });

  it('refuses counts that cannot be', () => {
    expect(() => binomialInterval(4, 3)).toThrow(/count 4 is outside 0 to 3/);
    expect(() => binomialInterval(0, 0)).toThrow(/number of all 0 is outside/);
    expect(() => poissonInterval(1, 0)).toThrow(/exposure 0 must be above 0/);
  });
});

describe('chance of as many or more', () => {
  const tails = published('binomial and Poisson tails', 'scipy 1.17.1', 1e-9);

  it.each(referenceTable('exact_tails').map((row) => [Object.values(row).join(' '), row] as const))(
    '%s',
    (_, row) => {
      const [count, parameter] = [num(row, 'count'), num(row, 'parameter')];
      const p =
        text(row, 'distribution') === 'binomial'
          ? binomialAtLeast(count, num(row, 'of'), parameter)
          : poissonAtLeast(count, parameter);
      tails.check(p, num(row, 'at_least'));
    },
  );

  it('is certain for none or more, and nothing beyond all', () => {
    expect([binomialAtLeast(0, 5, 0.3), binomialAtLeast(6, 5, 0.3), poissonAtLeast(0, 2)]).toEqual([1, 0, 1]);
  });
});

import { describe, expect, it } from 'vitest';
import { seededRandom } from '../../../src/science/statistics/random.ts';
import { repeatability, robustSd, withinSpread } from '../../../src/science/statistics/repeatability.ts';
import { num, referenceTable } from '../../support/csv.ts';
import { published } from '../../support/published.ts';

describe('repeatability', () => {
  const rows = referenceTable('repeatability_pefr');
  const pairs = (meter: string) => rows.map((row) => [num(row, `${meter}_1`), num(row, `${meter}_2`)]);
  const within = published(
    'within-subject standard deviation of peak flow',
    'Bland & Altman 1986, table 1 (figures from memory)',
    { absolute: 0.05 },
  );

  it.each([
    ['wright', 15.3, 21.6],
    ['mini', 19.9, 28.2],
  ] as const)('of the %s meter is that of the paper', (meter, sd, ofDifferences) => {
    const spread = withinSpread(pairs(meter));
    expect(spread?.freedom).toBe(17);
    within.check(spread?.sd ?? Number.NaN, sd);
    within.check((spread?.sd ?? Number.NaN) * Math.SQRT2, ofDifferences);
    // 1.96 standard deviations of a difference hold 95 of 100.
    expect(repeatability(sd) / (sd * Math.SQRT2)).toBeCloseTo(1.96, 10);
  });

  it('says nothing where nothing was measured twice, and leaves out what was measured once', () => {
    expect(withinSpread([[1], []])).toBeNull();
    expect(withinSpread([[1, 3], [500]])).toEqual({ sd: Math.SQRT2, freedom: 1 });
  });

  it('is estimated robustly: a fifth of wild values hardly moves it', () => {
    const random = seededRandom(3);
    const values = Array.from({ length: 4000 }, () => 2 * random.normal());
    expect(robustSd(values)).toBeCloseTo(2, 1);
    expect(robustSd(values.map((value, i) => (i % 5 === 0 ? value + 40 : value)))).toBeLessThan(3);
    // 1, 1, 2, 2, 4, 6, 9: deviations from 2 are 1, 1, 0, 0, 2, 4, 7, their median 1 (the textbook example of the MAD, from memory).
    expect(robustSd([1, 1, 2, 2, 4, 6, 9])).toBeCloseTo(1.4826, 4);
  });
});

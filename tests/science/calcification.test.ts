import { describe, expect, it } from 'vitest';
import { CALCIUM_PER_ALKALINITY, COMMUNITY_RATIO, ratioOf } from '../../src/science/calcification.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { convertDifference } from '../../src/science/units.ts';

describe('calcium with alkalinity', () => {
  it('is 20.04 mg/L a meq/L and 7.15 a dKH (stoichiometry, IUPAC 2021)', () => {
    expect(CALCIUM_PER_ALKALINITY).toBeCloseTo(20.04, 2);
    expect(CALCIUM_PER_ALKALINITY * convertDifference('alkalinity', 1, 'dKH', 'meq/L')).toBeCloseTo(7.15, 2);
  });

  it('covers what was measured on corals and on communities (PeerJ 2, 2014, e249), and little more', () => {
    const mgPerMeq = (molPerMol: number) => (2 * CALCIUM_PER_ALKALINITY) / molPerMol;
    const [most, least] = [mgPerMeq(1.6 - 0.14), mgPerMeq(2.06 + 0.19)];
    expect(COMMUNITY_RATIO.low).toBeLessThan(least);
    expect(COMMUNITY_RATIO.high).toBeGreaterThan(most);
    expect(COMMUNITY_RATIO.low).toBeCloseTo(mgPerMeq(2.3), -0.5);
    expect(COMMUNITY_RATIO.high).toBeCloseTo(mgPerMeq(1.4), -0.5);
  });
});

describe('the interval of a ratio (Fieller 1954)', () => {
  it('is that of the propagation of errors where both are known well (GUM 5.1.2)', () => {
    const ratio = ratioOf({ value: 10, sd: 0.01 }, { value: 5, sd: 0.01 });
    const half = 1.96 * 2 * Math.hypot(0.01 / 10, 0.01 / 5);
    expect(ratio?.low).toBeCloseTo(2 - half, 4);
    expect(ratio?.high).toBeCloseTo(2 + half, 4);
  });

  it('satisfies its own equation at both ends: (a - r b)^2 = z^2 (va + r^2 vb)', () => {
    const ratio = ratioOf({ value: 3, sd: 0.8 }, { value: 2, sd: 0.5 });
    for (const r of [ratio?.low ?? 0, ratio?.high ?? 0]) {
      expect((3 - 2 * r) ** 2).toBeCloseTo(1.959963985 ** 2 * (0.8 ** 2 + r ** 2 * 0.5 ** 2), 6);
    }
  });

  it('holds the true ratio in 95 of 100 cases, also where the divisor is known to a quarter', () => {
    const random = seededRandom(4);
    const held = Array.from({ length: 4000 }, () => {
      const ratio = ratioOf(
        { value: 20 + 4 * random.normal(), sd: 4 },
        { value: 1 + 0.25 * random.normal(), sd: 0.25 },
      );
      return ratio === null ? null : ratio.low <= 20 && ratio.high >= 20;
    }).filter((one) => one !== null);
    expect(held.filter(Boolean).length / held.length).toBeGreaterThan(0.935);
    expect(held.filter(Boolean).length / held.length).toBeLessThan(0.965);
  });

  it('is none where the divisor may be nothing', () => {
    expect(ratioOf({ value: 10, sd: 1 }, { value: 1, sd: 0.6 })).toBeNull();
  });
});

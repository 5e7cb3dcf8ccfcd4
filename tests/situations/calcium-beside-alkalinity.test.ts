import { describe, expect, test } from 'vitest';
import { CALCIUM_PER_ALKALINITY } from '../../src/science/calcification.ts';
import { convertDifference } from '../../src/science/units.ts';
import { calciumRatio } from '../../src/water/demand/calcium-ratio.rules.ts';
import type { DemandReading } from '../../src/water/demand/rate.rules.ts';
import { ratioWords } from '../../src/water/demand/words.rules.ts';

// Five ratios are in circulation: "10 ppm a meq/L", "6-7 ppm a dKH", "20 ppm per 2.8 dKH", and two measured ones, corals
// alone 2.06 +- 0.19 and a community with sediment 1.60 +- 0.14 mol of alkalinity a mol of calcium (PeerJ 2, 2014, e249).
// Stoichiometry says 20.04 mg/L a meq/L, 7.15 a dKH.

const dkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');

/** Water that is used evenly and not dosed, read every so many days. */
function falling(from: number, perDay: number, u: number, days: number, gap: number) {
  const readings = Array.from({ length: Math.floor(days / gap) + 1 }, (_, i): DemandReading => {
    const day = i * gap;
    return {
      day,
      value: from - perDay * day,
      u,
      below: false,
      trust: 'plain',
      instrument: '',
      suspect: false,
    };
  });
  return { readings, log: { changes: [], doses: [], makeUp: null } };
}

const ratioAfter = (days: number, alkalinityADay: number, calciumADay: number, calciumU = 10) =>
  calciumRatio(
    falling(4, alkalinityADay, 0.1 * dkh, days, 1),
    falling(480, calciumADay, calciumU, days, 3.5),
    days,
  );

describe('calcium beside alkalinity', () => {
  test('falls by 40 mg/L with 2 meq/L, so that 500 becomes 460, not 480', () => {
    expect(500 - 2 * CALCIUM_PER_ALKALINITY).toBeCloseTo(460, 0);
    expect(CALCIUM_PER_ALKALINITY * dkh).toBeCloseTo(7.15, 2);
  });

  test('is judged by its interval: 2.06 and 1.60 mol/mol are both within what is usual', () => {
    for (const molPerMol of [2.06, 1.6]) {
      const found = ratioAfter(56, 0.03, (0.03 * 2 * CALCIUM_PER_ALKALINITY) / molPerMol);
      expect(found?.ratio?.value).toBeCloseTo((2 * CALCIUM_PER_ALKALINITY) / molPerMol, 1);
      expect(ratioWords(found)).not.toContain('lies outside');
    }
  });

  test('is not called unbalanced while the interval reaches into the range, and is once it leaves it', () => {
    expect(ratioWords(ratioAfter(56, 0.03, 0.03 * 32))).not.toContain('lies outside');
    expect(ratioWords(ratioAfter(84, 0.04, 0.04 * 60))).toContain('the whole interval lies outside');
  });

  test('says nothing of a short trend, which calcium kits cannot resolve', () => {
    // 1 dKH in a month takes 7 mg/L of calcium; two tests of a kit of 10 mg/L tell 28.
    const found = ratioAfter(28, dkh / 28, (dkh / 28) * CALCIUM_PER_ALKALINITY);
    expect(found?.ratio).toBeNull();
    expect(ratioWords(found)).toMatch(
      /takes 7 mg\/L of calcium with it, and two calcium tests tell no less than 28/,
    );
    expect(ratioWords(found)).toContain('neither confirms nor refutes');
  });
});

import { describe, expect, test } from 'vitest';
import { type StepOptions, type Stretch, stepWithin } from '../../src/science/filter/step-evidence.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';

const quiet: StepOptions = {
  ...{ short: 0, shortDays: 5, long: 0, longDays: 50, own: 0, trend: 0, trendSd: 0, assumed: 1e9 },
};
const series = (values: readonly number[], sd = 0.5): Stretch[] =>
  values.map((value, i) => ({ from: i, to: i + 1, value, sd }));
const down = (ago: readonly number[], end = 10) => ({ end, ago, side: 'down' as const });
const stepped = series([0, 0, 0, 0, 0, 0, -1, -1, -1, -1]);

describe('a step in a series', () => {
  // Two means: 1 over 0.5 (1/6 + 1/4)^1/2 = 3.10 standard errors, by hand.
  test('is the difference of the means before and after, in noise that does not hang together', () => {
    const found = stepWithin(stepped, [], down([4]), quiet);
    expect(found?.size).toBeCloseTo(-1, 2);
    expect(found?.evidence).toBeCloseTo(3.1, 1);
  });

  test('is told at the day that explains the series best, and on its side alone', () => {
    expect(stepWithin(stepped, [], down([2, 3, 4, 5, 6]), quiet)?.ago).toBe(4);
    expect(stepWithin(stepped, [], { end: 10, ago: [4], side: 'up' }, quiet)).toBeNull();
  });

  test('counts for less where the noise hangs together, and not at all where it is known to have happened', () => {
    const hanging = stepWithin(stepped, [], down([4]), { ...quiet, short: 0.5 });
    expect(hanging?.evidence).toBeLessThan(2.6);
    const known = stepWithin(stepped, [{ day: 6, size: -1, sd: 0.1 }], down([4]), quiet);
    expect(known?.evidence ?? 0).toBeLessThan(0.01);
    const doubted = stepWithin(stepped, [{ day: 6, size: -0.5, sd: 0.2 }], down([4]), quiet);
    expect(doubted?.evidence).toBeGreaterThan(0.5);
    expect(doubted?.evidence).toBeLessThan(2);
  });

  test('is no trend: what goes on by the line that is expected is no step', () => {
    const sinking = series(
      Array.from({ length: 18 }, (_, i) => -0.05 * i),
      0.05,
    );
    const options = { ...quiet, trend: -0.05, trendSd: 0.01 };
    expect(stepWithin(sinking, [], down([4], 18), options)?.evidence ?? 0).toBeLessThan(0.5);
  });

  test('is hardly ever found in noise as it is assumed, at any of seven days', () => {
    const options: StepOptions = {
      ...quiet,
      short: 0.07,
      long: 0.04,
      own: 0.02,
      trendSd: 0.003,
      assumed: 20,
    };
    const found = Array.from({ length: 250 }, (_, seed) => {
      const random = seededRandom(seed + 1);
      let [fast, slow] = [0.07 * random.normal(), 0.04 * random.normal()];
      const days = Array.from({ length: 190 }, () => {
        const kept = [Math.exp(-1 / 5), Math.exp(-1 / 50)] as const;
        fast = kept[0] * fast + 0.07 * Math.sqrt(1 - kept[0] ** 2) * random.normal();
        slow = kept[1] * slow + 0.04 * Math.sqrt(1 - kept[1] ** 2) * random.normal();
        return fast + slow;
      });
      const tens = Array.from({ length: 19 }, (_, i) => {
        const own = days.slice(10 * i, 10 * i + 10);
        return {
          from: 10 * i,
          to: 10 * i + 10,
          value: own.reduce((sum, one) => sum + one / 10, 0),
          sd: 0.02,
        };
      });
      return stepWithin(tens, [], down([8, 11, 14, 17, 20, 24, 28], 190), options)?.evidence ?? 0;
    });
    expect(found.filter((evidence) => evidence > 3.4).length).toBeLessThanOrEqual(2);
    expect(found.filter((evidence) => evidence > 1.5).length).toBeGreaterThan(12);
  });
});

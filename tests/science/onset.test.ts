import { describe, expect, test } from 'vitest';
import { onsetOf } from '../../src/science/control/onset.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';

describe('the onset of a change', () => {
  test('is where the evidence begins to rise, with an interval around it', () => {
    const steps = [...Array.from({ length: 30 }, () => -0.4), ...Array.from({ length: 10 }, () => 0.8)];
    const onset = onsetOf(steps);
    expect(onset.likeliest).toBe(30);
    expect(onset.from).toBeLessThanOrEqual(30);
    expect(onset.to).toBeGreaterThanOrEqual(30);
    expect(onset.to - onset.from).toBeLessThan(10);
  });

  test('holds the true one nine times in ten where a standard deviation doubles', () => {
    const random = seededRandom(7);
    const [runs, at] = [400, 60];
    let held = 0;
    for (let run = 0; run < runs; run++) {
      // The logarithm of N(0, 2) over N(0, 1): z^2 (1 - 1/4) / 2 - ln 2.
      const steps = Array.from({ length: 90 }, (_, i) => {
        const z = random.normal() * (i >= at ? 2 : 1);
        return z ** 2 * (1 - 1 / 4) * 0.5 - Math.log(2);
      });
      const { from, to } = onsetOf(steps);
      if (from <= at && at <= to) held += 1;
    }
    expect(held / runs).toBeGreaterThan(0.85);
  });

  test('is wide where nothing tells when it began', () => {
    const { from, to } = onsetOf(Array.from({ length: 40 }, () => 0));
    expect(to - from).toBeGreaterThan(30);
  });
});

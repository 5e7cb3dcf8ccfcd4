import { describe, expect, test } from 'vitest';
import { convert, convertDifference } from '../../src/science/units/convert.ts';
import { alkalinityWorld } from '../bench/detect/alkalinity-world.ts';
import { countAlerts, delayOf, quantile, shorten } from '../bench/detect/counting.ts';
import { factsAt } from '../bench/detect/facts.ts';
import { follow } from '../bench/detect/following.ts';
import { nitrateWorld } from '../bench/detect/nitrate-world.ts';
import { slopeOf } from '../bench/detect/rivals.ts';
import { evaluating, ruleFor } from '../bench/detect/settings.ts';
import { alertRate, tuneLimit } from '../bench/detect/tuning.ts';
import { dayZero } from './facts.ts';

const usual = convert('alkalinity', 8.2, 'dKH', 'meq/L');
const farOff = convertDifference('alkalinity', 0.7, 'dKH', 'meq/L');
const above = (...days: number[]) => days.map((day) => ({ day, above: true }));
const nitrate = { habit: '2 a week', relativeSd: 0.1, chart: false, wander: 0.15, days: 420 } as const;
const alkalinity = { habit: 'daily', testSd: 0.1, swing: 0.1, fall: 0, wander: 0, repeated: false } as const;

describe('the bench of detection', () => {
  test('counts an alert when a statistic rises after thirty days below', () => {
    expect(countAlerts(above(10, 20, 45, 76), 0)).toBe(2);
    expect(countAlerts(above(10, 20, 45, 76), 15)).toBe(1);
    expect(countAlerts([{ day: 1, above: false }], 0)).toBe(0);
  });

  test('measures delays from the onset and leaves out what stood open at it', () => {
    expect(delayOf(above(50, 112), 100)).toBe(12);
    expect(delayOf(above(95, 112), 100)).toBeNull();
    expect(delayOf([], 100)).toBe(Number.POSITIVE_INFINITY);
    expect(quantile([4, 1, 3, 2], 0.5)).toBe(2);
    expect(shorten([10, null, 70, Number.POSITIVE_INFINITY], 60)).toEqual({
      runs: 3,
      found: 1 / 3,
      median: 70,
      p90: Number.POSITIVE_INFINITY,
    });
  });

  test('tunes a limit to the rate of false alerts asked for', () => {
    const series = Array.from({ length: 40 }, (_, system) =>
      Array.from({ length: 100 }, (_, i) => ({ day: 7 * i, value: (system * 7919 + i * 104729) % 1000 })),
    );
    const years = (40 * 700) / 365;
    const limit = tuneLimit(series, 0.5, 0, years);
    expect(limit).toBeGreaterThan(500);
    expect(alertRate(series, limit, 0, years)).toBeLessThanOrEqual(0.5);
  });

  test('fits a straight line by least squares', () => {
    // Anscombe 1973, first data set (from memory): y = 3.00 + 0.500 x.
    const x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5];
    const y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68];
    expect(slopeOf(x.map((day, i) => ({ day, value: y[i] ?? 0 })))).toBeCloseTo(0.5, 3);
  });

  test('a nitrate world steps up to the level that changes and production settle at', () => {
    const levelOf = (trouble: 'none' | 'step' | 'stop', seed: number) => {
      const { readings } = nitrateWorld({ ...nitrate, trouble, onset: 240, wander: 0 }, seed);
      const last = readings.filter(({ day }) => day > dayZero + 340).map(({ value }) => value);
      return last.reduce((sum, value) => sum + value, 0) / last.length;
    };
    const meanOf = (trouble: 'none' | 'step' | 'stop') =>
      Array.from({ length: 30 }, (_, i) => levelOf(trouble, 500 + i)).reduce((sum, one) => sum + one / 30, 0);
    expect(meanOf('none')).toBeGreaterThan(7);
    expect(meanOf('none')).toBeLessThan(9.5);
    // 8 mg/L and 1 mg/L a week over 12.5 % a week.
    expect(meanOf('step')).toBeGreaterThan(13);
    expect(meanOf('step')).toBeLessThan(17.5);
    expect(meanOf('stop')).toBeGreaterThan(22);
  });

  test('repeats of surprising tests leave hardly a slip in what is relied on', () => {
    const plan = { ...alkalinity, factor: 1, days: 700, onset: 9999 };
    const far = (repeated: boolean) =>
      Array.from({ length: 4 }, (_, i) => alkalinityWorld({ ...plan, repeated }, 900 + i))
        .flatMap(({ readings }) => readings.filter(({ trust }) => trust !== 'unconfirmed'))
        .filter(({ value }) => Math.abs(value - usual) > farOff).length;
    expect(far(false)).toBeGreaterThan(8);
    expect(far(true)).toBeLessThan(far(false) / 2);
  });

  test('asks the rule only near its alert, and hears the same as if it were asked at every reading', () => {
    const worlds = [
      {
        rule: ruleFor.creep,
        world: nitrateWorld({ ...nitrate, days: 180, trouble: 'step', onset: 120 }, 31),
      },
      {
        rule: ruleFor.swing,
        world: alkalinityWorld({ ...alkalinity, factor: 3, days: 130, onset: 90 }, 32),
      },
    ];
    for (const { rule, world } of worlds) {
      const evaluate = evaluating(rule, {});
      const { looks } = follow(world, rule, {}, { from: 80 });
      const said = looks.map(({ day }) =>
        evaluate(factsAt(world, dayZero + day), dayZero + day).some(({ status }) => status === 'fires'),
      );
      expect(looks.map((look) => look.above)).toEqual(said);
      expect(said).toContain(true);
    }
  });
});

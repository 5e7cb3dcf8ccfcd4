import { describe, expect, it } from 'vitest';
import {
  alkalinitySlopeOptions,
  fallingLimit,
  forecastSlope,
  probabilityOfLeaving,
  type SlopeReading,
  slopeOptions,
  trackSlope,
} from '../../src/science/filter/slope.ts';
import { fitSlopeNoise } from '../../src/science/filter/slope-fit.ts';
import {
  rangeLimit,
  rangeOfLast,
  swingLimit,
  swingOptions,
  varianceCusum,
  watchSwing,
} from '../../src/science/filter/swing.ts';
import { seededRandom } from '../../src/science/statistics/random.ts';
import { alkalinityWorld, median } from './worlds.ts';

describe('the variance CUSUM', () => {
  it('adds the log likelihood ratio of N(0, r) to N(0, 1)', () => {
    const density = (z: number, variance: number) => Math.exp((-z * z) / 2 / variance) / Math.sqrt(variance);
    for (const z of [1.5, 2, 3]) {
      expect(varianceCusum(5, z, 4) - 5).toBeCloseTo(Math.log(density(z, 4) / density(z, 1)), 12);
    }
  });

  it('falls to 0 and no lower, and counts a deviation up to its limit', () => {
    expect(varianceCusum(0.2, 0, 4)).toBe(0);
    expect(varianceCusum(0, 9, 4, 2.5)).toBe(varianceCusum(0, 2.5, 4, 2.5));
    expect(() => varianceCusum(0, 1, 1)).toThrow(/ratio of variances 1 is outside/);
    expect(() => varianceCusum(0, Number.NaN, 2)).toThrow(RangeError);
  });
});

describe('the watch on swing', () => {
  const steady = (days: number, value = 8.2) =>
    Array.from({ length: days }, (_, day) => ({ day, value: value + (day % 2 ? 0.1 : -0.1), sd: 0.1 }));

  it('learns the own mean and spread, and keeps its floors', () => {
    const last = watchSwing(steady(150), swingOptions(1)).at(-1);
    expect(last?.mean).toBeCloseTo(8.2, 1);
    // A mean of 5 follows readings that alternate by 0.1 with 0.1/9.
    expect(last?.usualSd).toBeCloseTo(0.1 + 0.1 / 9, 2);
    expect(last?.usualSwing).toBeCloseTo(Math.sqrt((0.1 + 0.1 / 9) ** 2 - 0.1 ** 2), 1.5);
    expect(last?.learntFrom).toBe(128);
  });

  it('does not let the last three weeks set the measure they are judged by', () => {
    const wild = Array.from({ length: 20 }, (_, i) => ({
      day: 150 + i,
      value: 8.2 + (i % 2 ? 1 : -1),
      sd: 0.1,
    }));
    const steps = watchSwing([...steady(150), ...wild], swingOptions(1));
    expect(steps.at(-1)?.usualSd).toBeLessThan(0.12);
    expect(steps.at(-1)?.sum).toBeGreaterThan(15);
  });

  it('has z, r and S as their formulas say', () => {
    const [step] = watchSwing([...steady(100), { day: 100, value: 8.6, sd: 0.1 }], swingOptions(1)).slice(-1);
    if (!step) throw new Error('no step');
    const water = step.usualSwing ** 2;
    const variance = step.usualSd ** 2;
    expect(step.z).toBeCloseTo((8.6 - step.mean) / step.usualSd, 12);
    expect(step.ratio).toBeCloseTo((4 * water + variance - water) / variance, 12);
  });

  it('does not depend on the unit', () => {
    const readings = alkalinityWorld({ seed: 4, days: 200, onset: 999 });
    const meq = readings.map((r) => ({ ...r, value: r.value / 2.8, sd: r.sd / 2.8 }));
    const [a, b] = [watchSwing(readings, swingOptions(1)), watchSwing(meq, swingOptions(1 / 2.8))];
    expect(b.at(-1)?.sum).toBeCloseTo(a.at(-1)?.sum ?? Number.NaN, 9);
  });

  it('counts a confirmed deviation further', () => {
    const wide = { day: 100, value: 9.2, sd: 0.1 };
    const sum = (confirmed: boolean) =>
      watchSwing([...steady(100), { ...wide, confirmed }], swingOptions(1)).at(-1)?.sum ?? 0;
    expect(sum(true)).toBeGreaterThan(sum(false));
  });

  it('finds a swing that doubled after about 20 days of daily tests to 0.1 dKH (simulation study)', () => {
    const delays: number[] = [];
    let falseAlerts = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const readings = alkalinityWorld({ seed, days: 480, onset: 300, factor: 2 });
      const alerts = watchSwing(readings, swingOptions(1)).filter(
        (step) => step.sum >= swingLimit(1, 0.1, step.wander) && step.day >= 60,
      );
      const before = alerts.filter((step) => step.day < 300).map((step) => step.day);
      falseAlerts += before.filter((day, i) => i === 0 || day - (before[i - 1] ?? 0) > 30).length;
      delays.push((alerts.find((step) => step.day >= 300)?.day ?? Infinity) - 300);
    }
    expect(median(delays)).toBeGreaterThan(12);
    expect(median(delays)).toBeLessThan(30);
    expect(falseAlerts / (60 * (240 / 365))).toBeLessThan(1);
  });

  it('does not take a level that wanders over weeks, or a kit that reads a little higher, for a swing', () => {
    const years = 60 * (420 / 365);
    let alerts = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const random = seededRandom(4000 + seed);
      let drift = random.normal();
      const readings = alkalinityWorld({ seed, days: 480, onset: 999 }).map((reading) => {
        drift = 0.95 * drift + 0.312 * random.normal();
        const kit = Math.floor(reading.day / 90) % 2 === 0 ? 0 : 0.15;
        return { ...reading, value: reading.value + 0.15 * drift + kit };
      });
      const days = watchSwing(readings, swingOptions(1))
        .filter(({ sum, day, wander }) => sum >= swingLimit(1, 0.1, wander) && day >= 60)
        .map(({ day }) => day);
      alerts += days.filter((day, i) => i === 0 || day - (days[i - 1] ?? 0) > 30).length;
    }
    expect(alerts / years).toBeLessThan(0.8);
  });

  it('shows the range of the last week, and takes its limits by the test', () => {
    const readings = [0, 3, 5, 9].map((day) => ({ day, value: 8 + day / 10, sd: 0.1 }));
    expect(rangeOfLast(readings, 9)).toBeCloseTo(0.6, 12);
    expect(rangeOfLast(readings, 5)).toBeCloseTo(0.5, 12);
    expect(rangeOfLast(readings, 20)).toBeNull();
    expect([0.05, 0.1, 0.2].map(rangeLimit)).toEqual([0.5, 0.7, 1.1]);
  });

  it('asks for less evidence of rarer and coarser tests, and for more where the level wanders', () => {
    expect(swingLimit(1, 0.1, 0)).toBe(4.1);
    expect(swingLimit(1, 0.1, 1)).toBe(4.75);
    expect(swingLimit(0.5, 0.01, 1)).toBe(5.65);
    expect(swingLimit(3.5, 0.3, 0)).toBe(2.1);
    expect(swingLimit(14, 0.5, 0.5)).toBeCloseTo(2.35, 12);
  });

  it('takes a level to wander until a steady one has shown itself', () => {
    const last = (wander: number, days: number) => {
      const random = seededRandom(77);
      let drift = random.normal();
      const readings = alkalinityWorld({ seed: 5, days, onset: 9999 }).map((reading) => {
        drift = 0.95 * drift + 0.312 * random.normal();
        return { ...reading, value: reading.value + wander * drift };
      });
      return watchSwing(readings, swingOptions(1)).at(-1)?.wander ?? Number.NaN;
    };
    expect(last(0, 22)).toBeGreaterThan(0.9);
    expect(last(0, 480)).toBeLessThan(0.3);
    expect(last(0.3, 480)).toBe(1);
  });
});

describe('level and slope', () => {
  const options = alkalinitySlopeOptions(1);
  const line = (slope: number, days = 30): SlopeReading[] =>
    Array.from({ length: days }, (_, day) => ({ day, value: 8.2 + slope * day, sd: 0.1 }));

  it('has the tuned constants', () => {
    expect(options.levelNoise).toBeCloseTo(0.05, 12);
    expect(options.slopeNoise).toBeCloseTo(0.015, 12);
    expect(options.swing).toBe(0.12);
    expect(slopeOptions(0.12)).toEqual(options);
  });

  it('follows a steady fall, and carries it on with a slope that fades by 0.97 a day', () => {
    const { now } = trackSlope(line(-0.1), 29, options);
    if (!now) throw new Error('no state');
    expect(now.slope).toBeCloseTo(-0.1, 1);
    const fade = [0, 1, 2, 3, 4].reduce((sum, day) => sum + 0.97 ** day, 0);
    expect(forecastSlope(now, 5, options).value).toBeCloseTo(now.level + now.slope * fade, 12);
    expect(forecastSlope(now, 0, options).sd).toBeCloseTo(now.levelSd, 12);
  });

  it('reaches the gain of the steady state, whatever it starts from (Riccati equation)', () => {
    const { history } = trackSlope(line(0, 400), 399, options);
    const [a, b] = [history.at(-1), history.at(-2)];
    expect(a?.levelSd).toBeCloseTo(b?.levelSd ?? Number.NaN, 9);
    // Predicted covariance P = F (P - P h h' P/s) F' + Q, checked by one more turn.
    const [ll, ls, ss] = [(a?.levelSd ?? 0) ** 2, a?.levelSlopeCov ?? 0, (a?.slopeSd ?? 0) ** 2];
    const predicted = ll + 2 * ls + ss + options.levelNoise ** 2;
    const noise = 0.1 ** 2 + options.swing ** 2;
    expect((predicted * noise) / (predicted + noise)).toBeCloseTo(ll, 9);
  });

  it('gives the same as a daily walk when days were left out', () => {
    const gaps = [0, 5, 9].map((day) => ({ day, value: 8, sd: 0.1 }));
    const { now } = trackSlope(gaps, 12, options);
    const { history } = trackSlope(gaps, 9, options);
    const last = history.at(-1);
    if (!now || !last) throw new Error('no state');
    expect(forecastSlope(last, 3, options).value).toBeCloseTo(now.level, 12);
    expect(forecastSlope(last, 3, options).sd).toBeCloseTo(now.levelSd, 12);
  });

  it('gives the chance of leaving either side of a band', () => {
    const { now } = trackSlope(line(-0.1, 9), 8, options);
    if (!now) throw new Error('no state');
    const { below, above } = probabilityOfLeaving(now, { low: 7, high: 9 }, options);
    expect(below).toBeGreaterThan(0.05);
    expect(above).toBeLessThan(0.01);
    expect(probabilityOfLeaving(now, { low: 6, high: Infinity }, options).below).toBeLessThan(below);
    expect(probabilityOfLeaving(now, { low: -Infinity, high: 9 }, options).below).toBe(0);
    expect(() => probabilityOfLeaving(now, { low: 7, high: 9 }, options, 0.5)).toThrow(/whole number/);
  });

  it('passes over a slip, and takes a jump after three readings', () => {
    const slip = [...line(0), { day: 30, value: 10, sd: 0.1 }];
    expect(trackSlope(slip, 30, options).now?.level).toBeLessThan(8.45);
    const jump = [...line(0), ...[30, 31, 32].map((day) => ({ day, value: 10, sd: 0.1 }))];
    expect(trackSlope(jump, 32, options).now?.level).toBeGreaterThan(9.5);
  });

  it('follows a crash at its own pace from the second reading on that a repeat confirmed', () => {
    const crash = [7.5, 6.8, 6.1, 5.3].map((value, i) => ({ day: 30 + i, value, sd: 0.2, confirmed: true }));
    const steady = Array.from({ length: 30 }, (_, day) => ({ day, value: 8.3, sd: 0.2 }));
    const { history } = trackSlope([...steady, ...crash], 33, options);
    for (const step of history.slice(-3)) {
      expect(Math.abs(step.level - step.reading.value)).toBeLessThan(0.2);
      expect(step.slope).toBeLessThan(-0.5);
      expect(step.slope).toBeGreaterThan(-0.9);
    }
  });

  it.each<[string, number, (day: number) => number]>([
    ['a rise after a slow fall', 38, (d) => (d < 30 ? 8.2 : d < 38 ? 8.2 - 0.1 * (d - 30) : 8.4)],
    ['a rise after a crash', 34, (d) => (d < 30 ? 8.2 : d < 34 ? 8.2 - 0.75 * (d - 30) : 7.5)],
    ['a drop after a rise', 36, (d) => (d < 30 ? 8.2 : d < 36 ? 8.2 + 0.2 * (d - 30) : 7.8)],
    ['a step up and back the next day', 31, (d) => (d === 30 ? 9.2 : 8.2)],
    ['a step down and back two days later', 32, (d) => (d === 30 || d === 31 ? 7.2 : 8.2)],
    ['three steps, down, up and down', 32, (d) => (d < 30 ? 8.2 : d === 30 ? 7.2 : d === 31 ? 8.7 : 8)],
  ])(
    'starts anew after %s that was confirmed: at the reading, and with the slope of before gone',
    (_, from, level) => {
      const after = [0, 1, 2, 3, 5].map((days) =>
        Array.from({ length: 20 }, (__, seed) => {
          const random = seededRandom(seed + 1);
          const readings = Array.from({ length: from + days + 1 }, (___, day) => ({
            day,
            value: level(day) + 0.1 * random.normal(),
            sd: 0.1,
            confirmed: Math.abs(level(day) - level(day - 1)) > 0.5,
          }));
          const state = trackSlope(readings, from + days, alkalinitySlopeOptions(1)).now;
          return { slope: state?.slope ?? 9, off: (state?.level ?? 0) - (readings.at(-1)?.value ?? 0) };
        }),
      );
      const [first, ...later] = after;
      expect(Math.max(...(first ?? []).map(({ off }) => Math.abs(off)))).toBeLessThan(0.1);
      const size = (runs: typeof first) => median((runs ?? []).map(({ slope }) => Math.abs(slope)));
      expect(size(first)).toBeLessThan(0.15);
      // Two tests of 0.1 dKH tell a slope to 0.14 a day, three to 0.07.
      expect(later.map(size).every((slope, i) => slope < ([0.2, 0.13, 0.09, 0.07][i] ?? 0))).toBe(true);
    },
  );

  it('takes two readings far off on one side for a break in the line, though nobody repeated them', () => {
    const broken = [...line(0), { day: 30, value: 7, sd: 0.1 }, { day: 31, value: 6, sd: 0.1 }];
    const { now } = trackSlope(broken, 31, options);
    expect(now?.level).toBeLessThan(6.3);
    expect(now?.slopeSd).toBeGreaterThan(0.2);
  });

  it('takes a bound as a bound', () => {
    const bounded = [...line(0), { day: 30, value: 8, sd: 0.1, bound: 'below' as const }];
    const level = trackSlope(bounded, 30, options).now?.level ?? 0;
    expect(level).toBeLessThan(8.2);
    expect(level).toBeGreaterThan(8);
  });

  it('warns of a fall of 0.1 dKH a day within about 7 days, 5 before the crossing (simulation study)', () => {
    const limit = fallingLimit(1, 0.1);
    const delays: number[] = [];
    let falseAlerts = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const readings = alkalinityWorld({ seed, days: 230, onset: 200, swing: 0.12, fall: 0.1 });
      const { history } = trackSlope(readings, 230, options);
      const alerting = history.map(
        (step) => probabilityOfLeaving(step, { low: 7, high: Infinity }, options).below >= limit,
      );
      falseAlerts += history.filter((step, i) => step.day < 200 && alerting[i] && !alerting[i - 1]).length;
      delays.push((history.find((step, i) => step.day >= 200 && alerting[i])?.day ?? Infinity) - 200);
    }
    expect(median(delays)).toBeGreaterThan(3);
    expect(median(delays)).toBeLessThan(9);
    expect(falseAlerts).toBeLessThan(5);
  });

  it('takes its limit by how often and how finely the farm tests', () => {
    expect(fallingLimit(1, 0.1)).toBeCloseTo(0.075, 3);
    expect(fallingLimit(1, 0.2)).toBeCloseTo(0.15, 3);
    expect(fallingLimit(7 / 3, 0.2)).toBeGreaterThan(fallingLimit(1, 0.2));
    expect(fallingLimit(1, 0.02)).toBe(0.05);
    expect(fallingLimit(14, 0.5)).toBe(0.45);
  });

  it('learns a larger swing from readings that swing more', () => {
    const calm = fitSlopeNoise(alkalinityWorld({ seed: 2, days: 120, onset: 999, swing: 0.05 }), options);
    const wild = fitSlopeNoise(alkalinityWorld({ seed: 2, days: 120, onset: 999, swing: 0.4 }), options);
    const size = ({ options: o }: typeof calm) => Math.hypot(o.swing, o.levelNoise);
    expect(size(wild)).toBeGreaterThan(2 * size(calm));
    expect(() => fitSlopeNoise(line(0, 10), options)).toThrow('number of readings 10 is outside');
  });

  it('refuses what cannot be', () => {
    expect(() => trackSlope([{ day: 0, value: 8, sd: 0 }], 1, options)).toThrow(/must be above 0/);
    expect(() => trackSlope([{ day: Number.NaN, value: 8, sd: 1 }], 1, options)).toThrow(RangeError);
    expect(trackSlope([], 1, options).now).toBeNull();
  });
});

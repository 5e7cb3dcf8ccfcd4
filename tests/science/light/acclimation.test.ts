import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { acclimationSchedule, accustomedAt, dailyLightMolM2 } from '../../../src/science/light.ts';
import { published } from '../../support/published.ts';

const daily = published(
  'daily light of an acclimation trial',
  'PLoS ONE 13 (2018) e0203882: 6 and 32 mol/m2/d, 10 h',
  2e-3,
);

const level = fc.double({ min: 1, max: 20, noNaN: true });
const pace = fc.record(
  {
    maxStepRatio: fc.double({ min: 1.1, max: 2, noNaN: true }),
    dwellDays: fc.double({ min: 2, max: 21, noNaN: true }),
    timeConstantDays: fc.double({ min: 1, max: 20, noNaN: true }),
  },
  { requiredKeys: ['maxStepRatio', 'dwellDays'] },
);

describe('an acclimation', () => {
  it('starts and ends in the daily light of the trial', () => {
    daily.check(dailyLightMolM2(167, 10), 6);
    daily.check(dailyLightMolM2(889, 10), 32);
  });

  it('from a lamp of 90 to one of 240 umol/m2/s takes eight even steps of at most 15 %', () => {
    const steps = acclimationSchedule(3.24, 8.64, { maxStepRatio: 1.15, dwellDays: 7 });
    expect(steps).toHaveLength(8);
    expect(steps.map((step) => step.day)).toEqual([0, 7, 14, 21, 28, 35, 42, 49]);
    expect(steps[0]?.dailyLight).toBeCloseTo(3.24 * (8.64 / 3.24) ** (1 / 8), 9);
    expect(steps.at(-1)?.dailyLight).toBe(8.64);
  });

  it('takes more steps for a lot that has not caught up when the next one is due', () => {
    const settled = acclimationSchedule(3.24, 8.64, { maxStepRatio: 1.15, dwellDays: 7 });
    const lagging = acclimationSchedule(3.24, 8.64, {
      maxStepRatio: 1.15,
      dwellDays: 7,
      timeConstantDays: 10,
    });
    expect(lagging.length).toBeGreaterThan(settled.length);
  });

  it('keeps every step within the ratio of what the lot is then accustomed to, up and down', () => {
    fc.assert(
      fc.property(level, level, pace, (from, to, limits) => {
        const steps = acclimationSchedule(from, to, limits);
        for (const step of steps) {
          const ratio = step.dailyLight / step.accustomedBefore;
          expect(Math.max(ratio, 1 / ratio)).toBeLessThanOrEqual(limits.maxStepRatio * (1 + 1e-9));
        }
        if (from !== to) expect(steps.at(-1)?.dailyLight).toBe(to);
      }),
    );
  });

  it('states the accustomed light that the adaptation model gives', () => {
    fc.assert(
      fc.property(level, level, pace, (from, to, limits) => {
        const tau = limits.timeConstantDays;
        if (tau === undefined) return;
        const steps = acclimationSchedule(from, to, limits);
        const history = steps.map((step) => ({ fromDay: step.day, dailyLight: step.dailyLight }));
        accustomedAt(
          history,
          tau,
          from,
          steps.map((step) => step.day),
        ).forEach((value, i) => {
          const stated = steps[i]?.accustomedBefore ?? Number.NaN;
          expect(Math.abs(value - stated)).toBeLessThanOrEqual(1e-8 * stated);
        });
      }),
    );
  });

  it('rises or falls all the way', () => {
    fc.assert(
      fc.property(level, level, pace, (from, to, limits) => {
        const lights = [from, ...acclimationSchedule(from, to, limits).map((step) => step.dailyLight)];
        const sign = Math.sign(to - from);
        lights.slice(1).forEach((value, i) => {
          expect((value - (lights[i] ?? Number.NaN)) * sign).toBeGreaterThan(-1e-9);
        });
      }),
    );
  });

  it('uses no more steps than the ratio requires', () => {
    fc.assert(
      fc.property(level, level, pace, (from, to, limits) => {
        fc.pre(Math.abs(Math.log(to / from)) > 1e-6);
        const { timeConstantDays: _, ...settledPace } = limits;
        const steps = acclimationSchedule(from, to, settledPace);
        const needed = Math.ceil(Math.abs(Math.log(to / from)) / Math.log(limits.maxStepRatio) - 1e-9);
        expect(steps).toHaveLength(needed);
      }),
    );
  });

  it('is empty where nothing changes and refused outside its limits', () => {
    expect(acclimationSchedule(5, 5, { maxStepRatio: 1.15, dwellDays: 7 })).toEqual([]);
    expect(() => acclimationSchedule(0, 5, { maxStepRatio: 1.15, dwellDays: 7 })).toThrow(
      'accustomed light 0 mol/m2/d',
    );
    expect(() => acclimationSchedule(1, 5, { maxStepRatio: 1, dwellDays: 7 })).toThrow(
      'step ratio 1 is outside',
    );
    expect(() => acclimationSchedule(1, Number.NaN, { maxStepRatio: 1.2, dwellDays: 7 })).toThrow(RangeError);
  });
});

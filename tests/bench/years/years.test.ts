import { describe, expect, test } from 'vitest';
import { Chance } from './chance.ts';
import { troublesOf } from './farm/troubles.ts';
import { type Drive, dkh, mix, newWater, passHour, type Water } from './farm/water.ts';
import { liveYear } from './run.ts';

const water = (more: Partial<Water> = {}): Water => ({
  ...newWater,
  ...{ litres: 1000, temperature: 25, oxygen: 6.77, ph: 8.1 },
  ...more,
});

const drive = (more: Partial<Drive> = {}): Drive => ({
  ...{ fullL: 1000, dosed: 0, used: 0, nitrateMade: 0, phosphateMade: 0, heater: 'auto', setPoint: 25 },
  ...{ roomDegC: 21, moving: true, aired: false, topUp: 'auto', co2: 420, hour: 9, breath: 0.3 },
  ...more,
});

function passed(hours: number, one: Water, driven: Drive): Water {
  for (let hour = 0; hour < hours; hour++) passHour(one, driven);
  return one;
}

describe('the water of the farm-years', () => {
  // (1 - f)^n: to a tenth it takes 22 changes of 10 %, 6.5 of 30 % (arithmetic of dilution).
  test('thins by changes as mixing does', () => {
    const one = water({ nitrate: 100 });
    const without = { ...newWater, nitrate: 0 };
    for (let i = 0; i < 22; i++) mix(one, 0.1, without);
    expect(one.nitrate).toBeCloseTo(100 * 0.9 ** 22, 6);
    expect(one.nitrate).toBeLessThan(10);
  });

  // 20.04 mg/L of calcium go with 1 meq/L of alkalinity (CaCO3).
  test('loses calcium with alkalinity as calcium carbonate does', () => {
    const one = passed(24 * 5, water({ ph: 8 }), drive({ used: 0.1 }));
    const salt = one.salinity / 35;
    expect(8 * dkh - one.alkalinity / salt).toBeCloseTo(0.5, 2);
    expect(425 - one.calcium / salt).toBeCloseTo(0.5 * 20.04, 0);
  });

  test('grows saltier where what evaporates is not made up, and keeps its salt', () => {
    const one = passed(24 * 7, water(), drive({ topUp: 'off' }));
    expect(one.salinity).toBeGreaterThan(37);
    expect((one.salinity * one.litres) / 1000).toBeCloseTo(35, 6);
  });

  // Computed from published constants, S 35, 25 degC, 8 dKH: pH 8.10 at 420 ppm, 7.86 at 800, 7.78 at 1,000, 7.62 at 1,500.
  test.each([
    [420, 8.1],
    [800, 7.86],
    [1000, 7.78],
    [1500, 7.62],
  ])('is in balance with air of %i ppm at pH %f', (co2, ph) => {
    expect(passed(1, water(), drive({ co2 })).ph).toBeCloseTo(ph, 1);
  });

  // Still water 0.4 m deep, k 2.3 cm an hour: from saturation to 4 mg/L in 3.0 h at 1 mg/L an hour (Newton-like, computed).
  test('runs out of oxygen where nothing moves', () => {
    const one = passed(3, water({ oxygen: 6.77 }), drive({ moving: false, breath: 1 }));
    expect(one.oxygen).toBeGreaterThan(3.7);
    expect(one.oxygen).toBeLessThan(4.3);
  });

  // Newton's law, time constant 20 h: 1/e of the difference is left after 20 h.
  test('cools to its room without a heater', () => {
    const one = passed(20, water(), drive({ heater: 'off', roomDegC: 15 }));
    expect(one.temperature).toBeCloseTo(15 + 10 * (1 - 1 / 20) ** 20, 6);
  });
});

describe('a farm-year', () => {
  test('brings troubles at the rates that are stated', () => {
    const all = Array.from({ length: 200 }, (_, seed) =>
      troublesOf(new Chance(seed), { systems: 1, from: 0, days: 365 }),
    );
    const pumps = all.flat().filter(({ kind }) => kind === 'pump left off').length;
    // 0.6 a year, Poisson: 120 in 200 years, within four standard deviations.
    expect(Math.abs(pumps - 120)).toBeLessThan(44);
  });

  test('has the same troubles whoever watches, and loses least where each is known', () => {
    const [none, known] = (['no watch', 'clairvoyant'] as const).map((policy) =>
      liveYear({ seed: 930_000_001, policy }),
    );
    const begun = (year: typeof none) => year?.troubles.map(({ kind, from }) => `${kind} ${from}`);
    expect(begun(none)).toEqual(begun(known));
    expect(known?.counts.lost).toBeLessThan(none?.counts.lost ?? 0);
  });
});

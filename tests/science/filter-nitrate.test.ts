import { describe, expect, it } from 'vitest';
import { HabitMeans, KeptHabit } from '../../src/science/filter/habit.ts';
import { trackNitrate } from '../../src/science/filter/nitrate.ts';
import {
  daysToNitrate,
  explainNitrateRise,
  forecastNitrate,
  nitrateRise,
  probabilityAbove,
  settledNitrate,
} from '../../src/science/filter/nitrate-forecast.ts';
import type { NitrateHistory, NitrateReading, NitrateState } from '../../src/science/filter/nitrate-types.ts';
import { trackUnloggedNitrate, unloggedLimit } from '../../src/science/filter/nitrate-unlogged.ts';
import { creepWorld, median } from './worlds.ts';

const reading = (day: number, value: number, more: Partial<NitrateReading> = {}): NitrateReading => ({
  day,
  value,
  relativeSd: 0.1,
  ...more,
});

/** Weekly changes of a fixed size in water that makes a fixed amount a day, read without error. */
function steadyFarm(days: number, production: number, fraction: number, level = 8): NitrateHistory {
  const readings: NitrateReading[] = [];
  const changes = [];
  let now = level;
  for (let day = 0; day <= days; day++) {
    if (day > 0) now += production;
    if (day % 3 === 0) readings.push(reading(day, now, { relativeSd: 0.02 }));
    if (day % 7 === 6) {
      now *= 1 - fraction;
      changes.push({ day, fraction, makeUp: 0 });
    }
  }
  return { readings, changes };
}

function stateOf(input: NitrateHistory, now: number): NitrateState {
  const { now: state } = trackNitrate(input, now);
  if (!state) throw new Error('no state');
  return state;
}

const state: NitrateState = {
  day: 0,
  historyDays: 200,
  level: 10,
  levelSd: 1,
  production: 0.2,
  productionSd: 0.03,
  levelProductionCov: 0.01,
  kitBias: 0,
  kitBiasSd: 0.05,
  habit: { fraction: 0.02, exchange: 0.02, makeUp: 1, addition: 0.05 },
  own: { level: 9, production: 0.15, exchange: 0.02 },
};

describe('following nitrate', () => {
  it('finds production and level through the saw-tooth of the changes', () => {
    const farm = stateOf(steadyFarm(240, 0.15, 0.125), 240);
    expect(farm.production).toBeCloseTo(0.15, 2);
    expect(Math.abs(farm.kitBias)).toBeLessThan(0.05);
    expect(farm.own?.level).toBeGreaterThan(7);
    expect(farm.own?.level).toBeLessThan(9);
    expect(farm.own?.production).toBeCloseTo(0.15, 2);
  });

  it('takes a change as N (1 - f) + s f, whatever is known (conservation)', () => {
    const before = stateOf({ readings: [reading(0, 20)], changes: [] }, 0);
    const after = stateOf({ readings: [reading(0, 20)], changes: [{ day: 0, fraction: 0.3, makeUp: 2 }] }, 0);
    expect(after.level).toBeCloseTo(before.level * 0.7 + 0.6, 12);
    expect(after.levelSd).toBeCloseTo(before.levelSd * 0.7, 12);
    const dosed = stateOf({ readings: [reading(0, 20)], changes: [], additions: [{ day: 0, rise: 1.5 }] }, 0);
    expect(dosed.level).toBeCloseTo(before.level + 1.5, 12);
  });

  it('grows as unsure with a fraction that is not known exactly', () => {
    const change = { day: 1, fraction: 0.5, makeUp: 0 };
    const sure = stateOf({ readings: [reading(0, 20)], changes: [change] }, 1);
    const unsure = stateOf({ readings: [reading(0, 20)], changes: [{ ...change, fractionSd: 0.1 }] }, 1);
    expect(unsure.levelSd ** 2 - sure.levelSd ** 2).toBeCloseTo((20 * 0.1) ** 2, 0);
  });

  it('does the same whatever order the log comes in, and leaves out what lies after now', () => {
    const log = creepWorld({ seed: 3, days: 200, onset: 999 }).log;
    const shuffled = { ...log, readings: [...log.readings].reverse(), changes: [...log.changes].reverse() };
    expect(trackNitrate(shuffled, 150)).toEqual(trackNitrate(log, 150));
    const early = { ...log, readings: log.readings.filter((r) => r.day <= 150) };
    expect(trackNitrate(early, 150).history).toEqual(trackNitrate(log, 150).history);
  });

  it('scales with the unit of the readings', () => {
    const log = creepWorld({ seed: 3, days: 200, onset: 999 }).log;
    const scaled = {
      ...log,
      readings: log.readings.map((r) => ({ ...r, value: r.value * 4 })),
      changes: log.changes.map((c) => ({ ...c, makeUp: c.makeUp * 4 })),
    };
    const [a, b] = [stateOf(log, 200), stateOf(scaled, 200)];
    expect(b.level).toBeCloseTo(4 * a.level, 6);
    expect(b.production).toBeCloseTo(4 * a.production, 6);
    expect(nitrateRise(b)).toBeCloseTo(nitrateRise(a) ?? Number.NaN, 6);
  });

  it('moves little for one slip, and catches up after three readings that agree', () => {
    const readings = Array.from({ length: 20 }, (_, i) => reading(i * 4, 8));
    const calm = { readings, changes: [] };
    const slip = { readings: [...readings, reading(80, 30)], changes: [] };
    const jump = { readings: [...readings, ...[80, 81, 82].map((day) => reading(day, 30))], changes: [] };
    expect(stateOf(slip, 80).level - stateOf(calm, 80).level).toBeLessThan(1.5);
    expect(trackNitrate(jump, 82).history.at(-1)?.jumped).toBe(true);
    expect(stateOf(jump, 82).level).toBeGreaterThan(22);
  });

  it('takes more from a reading that a repeat confirmed', () => {
    const readings = Array.from({ length: 20 }, (_, i) => reading(i * 4, 8));
    const move = (confirmed: boolean) =>
      stateOf({ readings: [...readings, reading(80, 14, { confirmed })], changes: [] }, 80).level;
    expect(move(true)).toBeGreaterThan(move(false));
  });

  it('doubts the kit first when the readings step at its opening', () => {
    const before = Array.from({ length: 30 }, (_, i) => reading(i * 3, 10, { relativeSd: 0.03 }));
    const after = Array.from({ length: 10 }, (_, i) => reading(90 + i * 3, 9, { relativeSd: 0.03 }));
    const log = { readings: [...before, ...after], changes: [] };
    const opened = stateOf({ ...log, kitOpenings: [90] }, 120);
    const not = stateOf(log, 120);
    expect(opened.kitBias).toBeLessThan(not.kitBias - 0.03);
    expect(opened.level).toBeGreaterThan(not.level + 0.3);
  });

  it('keeps "below detection" between nothing and the bound, never at zero', () => {
    const readings = Array.from({ length: 30 }, (_, i) => reading(i * 4, 2, { bound: 'below' }));
    const low = stateOf({ readings, changes: [] }, 120);
    expect(low.level).toBeGreaterThan(0.2);
    expect(low.level).toBeLessThan(2);
    expect(low.levelSd).toBeGreaterThan(0.1);
  });

  it('sees a rise out of the below-detection range', () => {
    const low = Array.from({ length: 30 }, (_, i) => reading(i * 4, 2, { bound: 'below' }));
    const risen = Array.from({ length: 5 }, (_, i) => reading(120 + i * 4, 12));
    expect(stateOf({ readings: [...low, ...risen], changes: [] }, 140).level).toBeGreaterThan(10);
  });

  it('keeps a coarse chart from looking sure', () => {
    const fine = Array.from({ length: 10 }, (_, i) => reading(i * 4, 10));
    const coarse = fine.map((r) => ({ ...r, step: 10 }));
    expect(stateOf({ readings: coarse, changes: [] }, 36).levelSd).toBeGreaterThan(
      1.3 * stateOf({ readings: fine, changes: [] }, 36).levelSd,
    );
  });

  it('lets another kit speak without the usual kit’s bias', () => {
    const base = Array.from({ length: 30 }, (_, i) => reading(i * 3, 10, { relativeSd: 0.03 }));
    const check = [90, 91, 92].map((day) => reading(day, 12, { otherKit: true, relativeSd: 0.03 }));
    const checked = stateOf({ readings: [...base, ...check], changes: [] }, 92);
    expect(checked.kitBias).toBeLessThan(0);
    expect(checked.level).toBeGreaterThan(10.2);
  });

  it('has nothing to say without readings', () => {
    expect(trackNitrate({ readings: [], changes: [{ day: 1, fraction: 0.1, makeUp: 0 }] }, 5)).toEqual({
      history: [],
      now: null,
    });
  });

  it('refuses what cannot be', () => {
    const bad = (input: Partial<NitrateHistory>) => () =>
      trackNitrate({ readings: [], changes: [], ...input }, 10);
    expect(bad({ readings: [reading(0, -1)] })).toThrow('reading -1 must be 0 or above');
    expect(bad({ readings: [reading(0, Number.NaN)] })).toThrow(RangeError);
    expect(bad({ readings: [reading(0, 5, { relativeSd: 2 })] })).toThrow(
      'relative uncertainty 2 is outside 0 to 1',
    );
    expect(bad({ changes: [{ day: 0, fraction: 1.2, makeUp: 0 }] })).toThrow(
      'fraction changed 1.2 is outside',
    );
    expect(() => trackNitrate({ readings: [], changes: [] }, Number.NaN)).toThrow(RangeError);
  });
});

describe('the habit of changes', () => {
  it('is the mean a day, soon after a short log as after a long one', () => {
    for (const weeks of [6, 60]) {
      const habit = new HabitMeans(-7, 35);
      for (let week = 0; week < weeks; week++) habit.change({ day: 7 * week, fraction: 0.14, makeUp: 1 });
      const { fraction, exchange, makeUp } = habit.at(7 * weeks - 3.5);
      expect(fraction).toBeCloseTo(0.02, 2.5);
      expect(exchange).toBeCloseTo(-Math.log(0.86) / 7, 2.5);
      expect(makeUp).toBeCloseTo(1, 12);
    }
  });

  it('fades with its memory when changes stop', () => {
    const habit = new HabitMeans(0, 35);
    for (let day = 7; day <= 700; day += 7) habit.change({ day, fraction: 0.1, makeUp: 0 });
    const last = habit.at(700).fraction;
    expect(habit.at(735).fraction / last).toBeCloseTo(Math.exp(-1), 6);
  });

  it('one change that is not logged hardly moves it, changes that have stopped are seen in three weeks', () => {
    const weekly = (skipped: (week: number) => boolean) => {
      const habit = new KeptHabit(-7, 100, 20, 1.25);
      for (let week = 0; week < 60; week++)
        if (!skipped(week)) habit.change({ day: 7 * week, fraction: 0.14, makeUp: 1 });
      return habit.at(7 * 60 - 3.5).exchange;
    };
    const usual = weekly(() => false);
    expect(weekly((week) => week === 58) / usual).toBeGreaterThan(0.93);
    expect(weekly((week) => week >= 57) / usual).toBeLessThan(0.6);
  });

  it('more changes than were usual count at once, to within a quarter', () => {
    const habit = new KeptHabit(0, 100, 20, 1.25);
    for (let day = 7; day <= 400; day += 7) habit.change({ day, fraction: 0.1, makeUp: 0 });
    for (let day = 402; day <= 450; day += 2) habit.change({ day, fraction: 0.1, makeUp: 0 });
    expect(habit.at(451).fraction).toBeGreaterThan(0.034);
    expect(habit.at(451).fraction).toBeLessThan(0.05);
  });

  describe('leaves out the changes of a correction', () => {
    const weekly = (until: number) => {
      const habit = new KeptHabit(0, 100, 20, 1.25);
      for (let day = 7; day <= until; day += 7) habit.change({ day, fraction: 0.1, makeUp: 0 });
      return habit;
    };
    const correct = (habit: KeptHabit, days: readonly number[]) => {
      for (const day of days) habit.change({ day, fraction: 0.25, makeUp: 0, once: true });
    };

    it('which come on top of the usual ones', () => {
      const [corrected, usual] = [weekly(203), weekly(203)];
      correct(corrected, [204, 206, 208]);
      // Three of 25 % are six weeks of the habit: counted, they would take it to its bound, a quarter more and beyond.
      const share = corrected.at(209).exchange / usual.at(209).exchange;
      expect(share).toBeGreaterThanOrEqual(1);
      expect(share).toBeLessThan(1.1);
    });

    it('however long ago, once the usual ones have stopped', () => {
      const [corrected, usual] = [weekly(203), weekly(203)];
      correct(corrected, [204, 206, 208]);
      expect(corrected.at(270).exchange).toBeLessThan(0.5 * usual.at(204).exchange);
    });

    it('but takes those that replaced the usual ones as these', () => {
      const [corrected, usual] = [weekly(203), weekly(224)];
      correct(corrected, [210, 217, 224]);
      expect(corrected.at(225).fraction / usual.at(225).fraction).toBeGreaterThan(0.9);
      expect(corrected.at(225).fraction / usual.at(225).fraction).toBeLessThan(1.1);
    });

    it('and makes no habit of them where there was none', () => {
      const habit = new KeptHabit(0, 100, 20, 1.25);
      correct(habit, [5, 7, 9]);
      expect(habit.at(10)).toMatchObject({ fraction: 0, exchange: 0 });
    });

    it('while the level follows them', () => {
      const log = steadyFarm(120, 0.2, 0.1);
      const change = { day: 120, fraction: 0.25, makeUp: 0 };
      const levels = [true, false].map(
        (once) => stateOf({ ...log, changes: [...log.changes, { ...change, once }] }, 120.5).level,
      );
      expect(levels[0]).toBe(levels[1]);
    });
  });
});

describe('forecasts', () => {
  it('tend to the level where exchange carries off what comes in', () => {
    const settled = settledNitrate(state);
    expect(settled?.value).toBeCloseTo((0.2 + 0.02 * 1 + 0.05) / 0.02, 12);
    expect(forecastNitrate(state, 0)).toEqual({ value: 10, sd: 1 });
    expect(forecastNitrate(state, 365).value).toBeCloseTo(settled?.value ?? Number.NaN, 1);
  });

  it('agree with small steps of the balance dN/dt = P + d + lambda (s - N)', () => {
    let level = state.level;
    for (let i = 0; i < 60_000; i++) level += 0.001 * (0.2 + 0.05 + 0.02 * (1 - level));
    expect(forecastNitrate(state, 60).value).toBeCloseTo(level, 3);
  });

  it('are straight lines when nothing is exchanged', () => {
    const still = { ...state, habit: { fraction: 0, exchange: 0, makeUp: 0, addition: 0 } };
    expect(forecastNitrate(still, 60).value).toBeCloseTo(22, 9);
    expect(forecastNitrate(still, 60).sd).toBeCloseTo(Math.sqrt(1 + 2 * 60 * 0.01 + (60 * 0.03) ** 2), 9);
    expect(settledNitrate(still)).toBeNull();
    expect(daysToNitrate(still, 22)).toBeCloseTo(60, 9);
  });

  it('reach a limit on the day the forecast passes it, and never one beyond the settled level', () => {
    const days = daysToNitrate(state, 12) ?? Number.NaN;
    expect(forecastNitrate(state, days).value).toBeCloseTo(12, 9);
    expect(daysToNitrate(state, 14)).toBeNull();
    expect(daysToNitrate(state, 9)).toBeNull();
    expect(daysToNitrate(state, 10)).toBe(0);
  });

  it('settle at the mean of the real saw-tooth, for small and for large changes', () => {
    for (const fraction of [0.1, 0.3, 0.5]) {
      const farm = stateOf(steadyFarm(400, 0.15, fraction, 5), 400);
      const mean = 0.15 * 7 * (1 / fraction - 0.5);
      expect((settledNitrate(farm)?.value ?? 0) / mean).toBeGreaterThan(0.87);
      expect((settledNitrate(farm)?.value ?? 0) / mean).toBeLessThan(1.13);
      expect(nitrateRise(farm)).toBeLessThan(1.2);
    }
  });

  it('name fewer changes or more production as the reason', () => {
    const fewer = { ...state, production: 0.15, habit: { ...state.habit, exchange: 0.008 } };
    expect(explainNitrateRise(fewer)?.main).toBe('fewer changes');
    expect(explainNitrateRise({ ...state, production: 0.3 })?.main).toBe('more production');
    expect(explainNitrateRise({ ...state, production: 0.15 })?.main).toBe('neither');
    expect(explainNitrateRise({ ...fewer, production: 0.25 })?.main).toBe('both');
    expect(explainNitrateRise({ ...state, own: null })).toBeNull();
  });

  it('give the probability of passing a limit: falling with the limit, rising with the time', () => {
    const p = [8, 11, 14, 20].map((limit) => probabilityAbove(state, limit, 60));
    expect(p).toEqual([...p].sort((a, b) => b - a));
    expect(p[0]).toBeGreaterThan(0.9);
    expect(p[3]).toBeLessThan(0.05);
    expect(probabilityAbove(state, 13, 60)).toBeGreaterThanOrEqual(probabilityAbove(state, 13, 10));
  });

  it('have no rise before there is an own level', () => {
    expect(nitrateRise({ ...state, own: null })).toBeNull();
    expect(() => forecastNitrate(state, 1000)).toThrow('days ahead 1000 d is outside 0 to 365 d');
  });
});

/** Days to the first alert after the onset in each world, and false alerts a year before it (from day 60). */
function trial(worlds: number, plan: { rise?: number; stop?: boolean; gap?: number; relativeSd?: number }) {
  const onset = 240;
  const delays: number[] = [];
  let falseAlerts = 0;
  for (let seed = 1; seed <= worlds; seed++) {
    const { log } = creepWorld({ seed, days: 440, onset, ...plan });
    const alerts = trackNitrate(log, 440).history.filter((step) => (nitrateRise(step) ?? 0) >= 1.3);
    const before = alerts
      .filter((step) => step.historyDays >= 60 && step.day < onset)
      .map((step) => step.day);
    falseAlerts += before.filter((day, i) => i === 0 || day - (before[i - 1] ?? 0) > 30).length;
    delays.push((alerts.find((step) => step.day >= onset)?.day ?? Infinity) - onset);
  }
  return { median: median(delays), falseAYear: falseAlerts / (worlds * (180 / 365)) };
}

/** The simulation study behind the design (DEVELOPERS.md): same world, other seeds; 60 worlds give +-3 days. */
describe('the creep rule in simulated water (1 mg/L a week on 8 mg/L, 10 % tests, alert at 1.3)', () => {
  it('sees more production after about 29 days with weekly tests, 23 with two a week', () => {
    const weekly = trial(60, { rise: 1 });
    expect(weekly.median).toBeGreaterThan(22);
    expect(weekly.median).toBeLessThan(35);
    expect(weekly.falseAYear).toBeLessThan(0.5);
    const twice = trial(60, { rise: 1, gap: 3.5 });
    expect(twice.median).toBeLessThan(28);
    expect(twice.falseAYear).toBeLessThan(0.5);
  });

  it('sees that changes stopped after about 20 to 22 days with weekly tests', () => {
    expect(trial(60, { stop: true }).median).toBeLessThan(27);
  });
});

describe('nitrate without a log of changes', () => {
  it('sees the same creep after about 30 days', () => {
    const delays = Array.from({ length: 60 }, (_, seed) => {
      const { log } = creepWorld({ seed, days: 440, onset: 240, rise: 1 });
      const steps = trackUnloggedNitrate(log.readings);
      const alert = steps.find((s) => s.day >= 240 && (s.rise ?? 0) >= unloggedLimit(0.1));
      return (alert?.day ?? Infinity) - 240;
    });
    expect(median(delays)).toBeGreaterThan(20);
    expect(median(delays)).toBeLessThan(38);
  });

  it('smooths with a time constant of 10 days', () => {
    const steps = trackUnloggedNitrate([reading(0, 10), reading(10, 11)]);
    expect(Math.log((steps[1]?.level ?? 0) / 10)).toBeCloseTo((1 - Math.exp(-1)) * Math.log(1.1), 9);
  });

  it('limits a slip, and takes a bound as below it', () => {
    const slip = trackUnloggedNitrate([reading(0, 10), reading(10, 100)]);
    expect(slip[1]?.level).toBeLessThan(10 * Math.exp(0.3));
    const bound = trackUnloggedNitrate([reading(0, 10), reading(10, 9, { bound: 'below' })]);
    expect(bound[1]?.level).toBeLessThan(10);
    const nothingNew = trackUnloggedNitrate([reading(0, 10), reading(10, 50, { bound: 'below' })]);
    expect(nothingNew[1]?.level).toBeCloseTo(10, 6);
  });

  it('takes the tuned limits', () => {
    expect([0.05, 0.1, 0.2].map(unloggedLimit)).toEqual([0.2, 0.25, 0.45]);
    expect(() => trackUnloggedNitrate([reading(0, 0)])).toThrow('reading 0 must be above 0');
  });
});

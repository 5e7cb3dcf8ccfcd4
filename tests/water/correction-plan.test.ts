import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { afterWaterChange } from '../../src/science/dilution.ts';
import { convertDifference } from '../../src/science/units.ts';
import { acuteAt, noBand } from '../../src/water/acute/acute-states.rules.ts';
import type { ScheduleRequest } from '../../src/water/corrections/additions.rules.ts';
import { levelAt } from '../../src/water/corrections/expected-level.rules.ts';
import { type CorrectionSchedule, planSchedule } from '../../src/water/corrections/schedule.rules.ts';
import {
  type Correctable,
  caps,
  meansOf,
  type StatedAmounts,
} from '../../src/water/dosing/substances.rules.ts';

const dKH = (rise: number) => convertDifference('alkalinity', rise, 'dKH', 'meq/L', 3);
const nothing: StatedAmounts = { purity: null, solution: null, limewater: null, makeUp: null };
const bicarbonate = (volumeL: number, purity = 1) =>
  meansOf('sodium-bicarbonate', 'alkalinity', { ...nothing, purity }, volumeL);

function request(changes: Partial<ScheduleRequest>): ScheduleRequest {
  const volumeL = changes.volumeL ?? 200;
  return {
    quantity: 'alkalinity',
    from: { day: 100, value: dKH(7.7), u: 0.036 },
    target: dKH(8.3),
    dailyCap: caps.alkalinity.usual,
    volumeL,
    means: bicarbonate(volumeL),
    drift: null,
    fast: null,
    startDay: 100,
    ...changes,
  };
}

function stepsOf(schedule: CorrectionSchedule) {
  if (!schedule.ok) throw new Error(schedule.refused);
  return schedule.steps;
}

describe('amounts', () => {
  // A published how-to page on balanced dosing: 200 L, from 7.7 to 8.3 dKH, 2.7 mL per 100 L raise 0.1 dKH. The page
  // itself subtracts wrongly and gives 27 mL; recomputed, 0.6 dKH take 32.4 mL.
  test('of a solution as its bottle states it: 32.4 mL for 0.6 dKH in 200 L', () => {
    const solution = { doseMl: 2.7, volumeL: 100, rise: dKH(0.1), name: 'soda' };
    const means = meansOf('solution', 'alkalinity', { ...nothing, solution }, 200);
    expect((means.amountPerRise ?? 0) * dKH(0.6)).toBeCloseTo(32.4, 6);
    const [step, ...more] = stepsOf(planSchedule(request({ means })));
    expect(more).toEqual([]);
    expect(step?.amount).toBe(32.5);
  });

  // General chemistry (atomic weights of IUPAC 2021): 1 dKH in 100 L takes 3.00 g of sodium bicarbonate or 1.89 g of carbonate.
  test('of bicarbonate and carbonate for 1 dKH in 100 L', () => {
    const carbonate = meansOf('sodium-carbonate', 'alkalinity', nothing, 100);
    expect((bicarbonate(100).amountPerRise ?? 0) * dKH(1)).toBeCloseTo(3.0, 2);
    expect((carbonate.amountPerRise ?? 0) * dKH(1)).toBeCloseTo(1.89, 2);
  });

  // General chemistry: 10 mg/L of calcium in 100 L is 1 g of Ca, 2.77 g of CaCl2 and 3.67 g of its dihydrate; 10 mg/L of
  // magnesium is 1 g of Mg, 8.36 g of MgCl2.6H2O and 10.14 g of MgSO4.7H2O.
  test.each([
    ['calcium-chloride', 'calcium', 2.77],
    ['calcium-chloride-dihydrate', 'calcium', 3.67],
    ['magnesium-chloride-hexahydrate', 'magnesium', 8.36],
    ['magnesium-sulphate-heptahydrate', 'magnesium', 10.14],
  ] as const)('of %s for 10 mg/L in 100 L', (code, quantity, grams) => {
    expect((meansOf(code, quantity, nothing, 100).amountPerRise ?? 0) * 10).toBeCloseTo(grams, 2);
  });

  test('grow with less purity', () => {
    expect(bicarbonate(100, 0.8).amountPerRise).toBeCloseTo((bicarbonate(100).amountPerRise ?? 0) / 0.8, 9);
  });

  test('of limewater are bounded by what evaporates', () => {
    const limewater = { temperatureDegC: 25, evaporationLPerDay: 2 };
    const means = meansOf('saturated-limewater', 'alkalinity', { ...nothing, limewater }, 200);
    const steps = stepsOf(planSchedule(request({ means })));
    expect(steps.every((step) => step.amount <= 2)).toBe(true);
    const dry = meansOf(
      'saturated-limewater',
      'alkalinity',
      { ...nothing, limewater: { ...limewater, evaporationLPerDay: 0.05 } },
      200,
    );
    expect(planSchedule(request({ means: dry }))).toMatchObject({ ok: false, field: 'evaporation' });
  });
});

describe('a schedule', () => {
  test('spreads 2.5 dKH over three days of 0.83, tests before the second step and then every other', () => {
    const steps = stepsOf(
      planSchedule(request({ target: dKH(10.2), volumeL: 1840, means: bicarbonate(1840) })),
    );
    expect(steps.map((step) => step.retest)).toEqual([false, true, false]);
    for (const step of steps) expect(step.change).toBeLessThanOrEqual(caps.alkalinity.usual);
    expect(steps.at(-1)?.after.value).toBeCloseTo(dKH(10.2), 2);
  });

  test('takes two days for 2 dKH at 1 a day, though the scale shows whole grams', () => {
    const steps = stepsOf(
      planSchedule(request({ target: dKH(9.7), volumeL: 1840, means: bicarbonate(1840) })),
    );
    expect(steps.map((step) => step.amount)).toEqual([55, 55]);
  });

  test('counts what the stock uses, within the same cap', () => {
    const still = stepsOf(planSchedule(request({ target: dKH(9.4) })));
    const used = stepsOf(
      planSchedule(request({ target: dKH(9.4), drift: { perDay: -dKH(0.4), sd: dKH(0.1) } })),
    );
    expect(still.length).toBe(2);
    expect(used.length).toBe(3);
    for (const step of used) expect(step.change).toBeLessThanOrEqual(caps.alkalinity.usual * 1.000001);
    expect(used.at(-1)?.after.value).toBeCloseTo(dKH(9.4), 2);
  });

  // Weekly dosing up to the target (a shop's method page): 6.8 to 8.5 dKH in one addition is more than 1 dKH a day.
  test('never brings 1.7 dKH in one addition, as weekly dosing to a target does', () => {
    const from = { day: 100, value: dKH(6.8), u: 0.036 };
    expect(stepsOf(planSchedule(request({ from, target: dKH(8.5) }))).length).toBe(2);
  });

  test('is refused where the stock uses as much as may be added', () => {
    const refused = planSchedule(request({ drift: { perDay: -dKH(1.2), sd: 0.01 } }));
    expect(refused).toMatchObject({ ok: false, field: 'dailyCap' });
  });

  test('is refused within the uncertainty of the reading, downwards by an addition, and beyond the fastest change', () => {
    expect(planSchedule(request({ target: dKH(7.75) }))).toMatchObject({ ok: false, field: 'target' });
    expect(planSchedule(request({ target: dKH(7) }))).toMatchObject({ ok: false, field: 'substance' });
    expect(planSchedule(request({ dailyCap: dKH(3) }))).toMatchObject({ ok: false, field: 'dailyCap' });
  });
});

describe('an exchange', () => {
  const exchange = (quantity: Correctable, makeUp: number) =>
    meansOf('exchange', quantity, { ...nothing, makeUp }, 1000);

  // A club thread's salt mix of 12 dKH into 8 dKH: one change of 30 % is 1.2 dKH at once (recomputed, mass balance).
  test('of 30 % with water of 12 dKH into 8 would be 1.2 dKH at once, so it is spread over two days', () => {
    expect(afterWaterChange(8, 12, 0.3)).toBeCloseTo(9.2, 9);
    const from = { day: 100, value: dKH(8), u: 0.036 };
    const steps = stepsOf(
      planSchedule(
        request({ from, target: dKH(9.2), volumeL: 1000, means: exchange('alkalinity', dKH(12)) }),
      ),
    );
    expect(steps.length).toBe(2);
    expect(steps.at(-1)?.after.value).toBeCloseTo(dKH(9.2), 2);
  });

  test('brings salinity down in steps of at most 1', () => {
    const base = {
      quantity: 'salinity' as const,
      from: { day: 100, value: 37.5, u: 0.3 },
      target: 35,
      dailyCap: 1,
      volumeL: 1000,
    };
    const steps = stepsOf(planSchedule(request({ ...base, means: exchange('salinity', 0) })));
    expect(steps.length).toBe(3);
    expect(steps.at(-1)?.after.value).toBeCloseTo(35, 1);
  });

  test('is refused where the new water does not lie beyond the target', () => {
    expect(planSchedule(request({ target: dKH(9), means: exchange('alkalinity', dKH(8.5)) }))).toMatchObject({
      ok: false,
      field: 'makeUp',
    });
  });
});

// Rates of acute states: common practice, no published trial (the table of acute states says so).
describe('from an acute level', () => {
  const fastOf = (quantity: string, value: number) => acuteAt(quantity, value, noBand)?.rate ?? null;
  const timesOf = (schedule: CorrectionSchedule) =>
    stepsOf(schedule).map(({ day, afterHours }) => [day, afterHours]);

  test('alkalinity comes to 7 dKH by 0.5 a step every two hours, each after a test, and goes on by 1 a day', () => {
    const from = { day: 100, value: dKH(5), u: 0.036 };
    const schedule = planSchedule(request({ from, target: dKH(8.6), fast: fastOf('alkalinity', dKH(5)) }));
    expect(timesOf(schedule)).toEqual([
      [0, null],
      [0, 2],
      [0, 2],
      [0, 2],
      [1, null],
      [2, null],
    ]);
    const steps = stepsOf(schedule);
    expect(steps.map(({ retest }) => retest)).toEqual([false, true, true, true, true, false]);
    for (const step of steps.slice(0, 4)) expect(step.change).toBeLessThanOrEqual(dKH(0.5) * 1.01);
    expect(steps[3]?.after.value).toBeCloseTo(dKH(7), 2);
    expect(steps.at(-1)?.after.value).toBeCloseTo(dKH(8.6), 2);
  });

  test('leaves what lies within the error of the test to the slow steps, rather than take a day more', () => {
    const from = { day: 100, value: dKH(4.97), u: 0.036 };
    const schedule = planSchedule(request({ from, target: dKH(8.6), fast: fastOf('alkalinity', dKH(4.97)) }));
    expect(timesOf(schedule).map(([day]) => day)).toEqual([0, 0, 0, 0, 1, 2]);
  });

  test('never moves alkalinity by more than 2 dKH within 24 hours: what is deeper goes on the next day', () => {
    const from = { day: 100, value: dKH(4), u: 0.036 };
    const schedule = planSchedule(request({ from, target: dKH(7), fast: fastOf('alkalinity', dKH(4)) }));
    expect(timesOf(schedule)).toEqual([
      [0, null],
      [0, 2],
      [0, 2],
      [0, 2],
      [1, null],
      [1, 2],
    ]);
    const firstDay = stepsOf(schedule).slice(0, 4);
    expect(firstDay.reduce((sum, { change }) => sum + change, 0)).toBeLessThanOrEqual(dKH(2) * 1.01);
  });

  test('salinity comes up by 1 an hour to 28 and then by 1 a day, and down from 41 by 1 in two hours', () => {
    const exchange = (makeUp: number) => meansOf('exchange', 'salinity', { ...nothing, makeUp }, 1000);
    const low = { quantity: 'salinity' as const, dailyCap: 1, volumeL: 1000, target: 29.8 };
    const up = planSchedule(
      request({
        ...low,
        from: { day: 100, value: 25, u: 0.2 },
        means: exchange(38),
        fast: fastOf('salinity', 25),
      }),
    );
    expect(timesOf(up)).toEqual([
      [0, null],
      [0, 1],
      [0, 1],
      [1, null],
      [2, null],
    ]);
    expect(stepsOf(up)[2]?.after.value).toBeCloseTo(28, 1);
    const down = planSchedule(
      request({
        ...low,
        target: 37,
        from: { day: 100, value: 41, u: 0.2 },
        means: exchange(0),
        fast: fastOf('salinity', 41),
      }),
    );
    expect(timesOf(down)).toEqual([
      [0, null],
      [0, 2],
      [0, 2],
      [0, 2],
    ]);
  });

  test('is not raised by limewater, of which too little fits', () => {
    const limewater = { temperatureDegC: 25, evaporationLPerDay: 4 };
    const means = meansOf('saturated-limewater', 'alkalinity', { ...nothing, limewater }, 200);
    const from = { day: 100, value: dKH(5), u: 0.036 };
    expect(
      planSchedule(request({ from, target: dKH(8), means, fast: fastOf('alkalinity', dKH(5)) })),
    ).toMatchObject({ ok: false, field: 'substance' });
  });
});

describe('every schedule', () => {
  const wishes = fc.record({
    from: fc.double({ min: 1.8, max: 4, noNaN: true }),
    rise: fc.double({ min: 0.1, max: 2, noNaN: true }),
    cap: fc.double({ min: 0.05, max: 0.5, noNaN: true }),
    volumeL: fc.double({ min: 40, max: 20_000, noNaN: true }),
    drift: fc.double({ min: -0.3, max: 0.1, noNaN: true }),
    late: fc.double({ min: 0, max: 2, noNaN: true }),
  });

  test('stays within its cap, ends at its target, and its amounts add up to the whole', () => {
    fc.assert(
      fc.property(wishes, ({ from, rise, cap, volumeL, drift, late }) => {
        const means = bicarbonate(volumeL);
        const asked = request({
          from: { day: 100, value: from, u: 0.05 },
          target: from + rise,
          dailyCap: cap,
          volumeL,
          means,
          drift: { perDay: drift, sd: 0.02 },
          startDay: 100 + late,
        });
        const schedule = planSchedule(asked);
        if (!schedule.ok) return;
        const perGram = 1 / (means.amountPerRise ?? 1);
        // Sums may differ in their last digits.
        const step =
          (Math.max(...schedule.steps.map(({ amount }) => amount)) * 0.02 + 0.1 + 0.01 * schedule.total) *
          (1 + 1e-9);
        for (const { change, amount } of schedule.steps) {
          expect(change + Math.max(0, drift)).toBeLessThanOrEqual(cap * 1.000001);
          expect(amount).toBeGreaterThan(0);
        }
        const end = schedule.steps.at(-1)?.after;
        expect(Math.abs((end?.value ?? 0) - asked.target)).toBeLessThanOrEqual(step * perGram);
        const whole = rise - drift * (late + schedule.steps.length);
        expect(Math.abs(schedule.total * perGram - whole)).toBeLessThanOrEqual(step * perGram);
        const course = {
          from: asked.from,
          driftPerDay: drift,
          driftSd: 0.02,
          relativeU: means.relativeU,
          saline: false,
          done: schedule.steps.map(({ change, day }) => ({ day: asked.startDay + day, rise: change })),
        };
        const peak = Math.max(
          ...schedule.steps.map(({ day }) => levelAt(course, asked.startDay + day).value),
        );
        expect(peak).toBeLessThanOrEqual(asked.target + Math.max(0, -drift) + step * perGram);
      }),
      { numRuns: 300 },
    );
  });
});

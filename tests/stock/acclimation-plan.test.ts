import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { acclimationSchedule, accustomedAt, dailyLightMolM2 } from '../../src/science/light.ts';
import { type Beneath, planLamps } from '../../src/stock/acclimations/lamp-steps.rules.ts';
import { daysUntilBearable, strictestPace } from '../../src/stock/acclimations/pace.rules.ts';
import { planRecovery } from '../../src/stock/acclimations/recovery.rules.ts';
import {
  type CandidatePlace,
  type LotInPlan,
  planBySlots,
  type SlotStep,
} from '../../src/stock/acclimations/slot-steps.rules.ts';
import { leastSteps, paceBy } from '../../src/stock/light/pace.rules.ts';

// PAR over ten hours of full light: 90 is 90 x 10 x 3600 / 1e6 = 3.24 mol/(m2 d), 240 is 8.64 (arithmetic).
const hours = 10;
const daily = (par: number) => dailyLightMolM2(par, hours);
const slot = (id: string, par: number): CandidatePlace => ({
  slotIds: [id],
  name: id,
  par,
  parMax: par,
  dli: daily(par),
  dliMax: daily(par),
});
const slots = (pars: readonly number[]) => pars.map((par, i) => slot(`s${i}`, par));
/** Common practice: 15 % a step, a week apart; adapts with ten days. */
const pace = { stepRatio: 1.15, dwellDays: 7, adaptationDays: 10 };
const pupil = (more: Partial<LotInPlan> = {}): LotInPlan => ({
  lotId: 'a',
  code: 'A',
  accustomed: daily(90),
  ...pace,
  parCeiling: null,
  here: slot('here', 90),
  places: [],
  ...more,
});
const goal = (par: number) => ({ dli: daily(par), place: null });
const pars = (steps: readonly SlotStep[]) =>
  steps.map(({ par, dli }) => par ?? Math.round((dli * 1e6) / 36_000));

/** What the science of accustomed light makes of a lot's steps, just before each. */
function accustomedBefore(start: number, first: number, steps: readonly SlotStep[]): number[] {
  const pieces = [
    { fromDay: -1, dailyLight: first },
    ...steps.map(({ day, dli }) => ({ fromDay: day, dailyLight: dli })),
  ];
  return accustomedAt(
    pieces,
    pace.adaptationDays,
    start,
    steps.map((step) => step.day),
  );
}

describe('an acclimation by places', () => {
  test('from a seller’s 90 to 240 takes as many steps as the arithmetic of adaptation asks for, where every light is to be had', () => {
    const places = slots(Array.from({ length: 600 }, (_, i) => 60 + i * 0.5));
    const { steps, stranded } = planBySlots([pupil({ places })], goal(240), { pace, received: 'here' });
    const exact = acclimationSchedule(daily(90), daily(240), {
      maxStepRatio: 1.15,
      dwellDays: 7,
      timeConstantDays: 10,
    });
    expect(stranded).toEqual([]);
    expect(steps).toHaveLength(exact.length);
    expect(steps[0]?.par).toBeLessThan(90 * 1.15 + 0.01);
    expect(steps.at(-1)?.par).toBe(240);
  });

  test('is as long as a move there says beforehand, whatever of its pace its kind states', () => {
    const places = slots(Array.from({ length: 1200 }, (_, i) => 60 + i * 0.25));
    for (const stated of [{}, { stepRatio: 1.12 }, { dwellDays: 5 }, { adaptationDays: 21 }]) {
      const own = paceBy(stated);
      const at = slot('goal', 240);
      const lot = pupil({ ...own, places: [...places, at] });
      const plan = planBySlots([lot], { dli: at.dli, place: at }, { pace: own, received: 'here' });
      expect(plan.days).toBe(leastSteps(240 / 90, own)?.days);
    }
  });

  test('from 110 to the 165 of new lamps is 13 to 15 % a step, a week apart', () => {
    const places = slots([115, 120, 126, 133, 140, 148, 156, 165]);
    const lot = pupil({ accustomed: daily(110), here: slot('here', 110), places });
    const { steps } = planBySlots([lot], goal(165), { pace, received: 'here' });
    for (const step of steps) expect(step.dli / step.accustomedBefore).toBeLessThanOrEqual(1.15 + 1e-9);
    expect(steps[0]?.par).toBe(126);
    expect(steps.at(-1)?.par).toBe(165);
    expect(steps.every((step) => step.day % 7 === 0)).toBe(true);
  });

  test('begins at the dim end where nobody knows what they had, and rises only from the second step', () => {
    const lot = pupil({ accustomed: daily(50), here: null, places: slots([45, 50, 56, 64, 72]) });
    const { steps } = planBySlots([lot], goal(72), { pace, received: 'unknown' });
    expect(pars(steps)).toEqual([50, 56, 64, 72]);
  });

  test('waits where the next free place is in reach after a longer stay', () => {
    const lot = pupil({ accustomed: daily(80), here: slot('here', 90), places: slots([100]) });
    const { steps } = planBySlots([lot], goal(100), { pace, received: 'here' });
    expect(steps).toHaveLength(1);
    expect(steps[0]?.day).toBe(14);
  });

  test('says where there is no place, between which lights, and which is next', () => {
    const lot = pupil({ accustomed: daily(80), here: slot('here', 80), places: slots([130]) });
    const { steps } = planBySlots([lot], goal(130), { pace, received: 'here' });
    const [first] = steps;
    expect(first?.place).toBeNull();
    expect(first?.gap?.next?.par).toBe(130);
    expect(first?.gap?.high).toBeCloseTo(daily(80) * 1.15, 9);
    expect(steps.at(-1)?.place?.par).toBe(130);
  });

  test('leaves a lot that stands right where it is', () => {
    expect(planBySlots([pupil()], goal(92), { pace, received: 'here' }).steps).toEqual([]);
  });

  test('brings a lot that stands too bright to a place it bears first', () => {
    const lot = pupil({ accustomed: daily(60), here: slot('here', 150), places: slots([40, 66, 75]) });
    const [first] = planBySlots([lot], goal(75), { pace, received: 'here' }).steps;
    expect(first?.par).toBe(66);
  });

  test('goes down in steps as well', () => {
    const lot = pupil({ places: slots([80, 71, 63]) });
    expect(pars(planBySlots([lot], goal(63), { pace, received: 'here' }).steps)).toEqual([80, 71, 63]);
  });

  test('of a delivery the strictest kind rules the pace', () => {
    expect(strictestPace([pace, { stepRatio: 1.25, dwellDays: 10, adaptationDays: 4 }])).toEqual({
      stepRatio: 1.15,
      dwellDays: 10,
      adaptationDays: 10,
    });
  });

  test('lets one lot have the place that another leaves, the brightest going first', () => {
    const shared = slots([100, 112]);
    const low = pupil({ lotId: 'a', code: 'A', here: slot('s9', 90), places: shared });
    const [at100] = shared;
    const high = pupil({
      lotId: 'b',
      code: 'B',
      accustomed: daily(100),
      here: at100 ?? null,
      places: shared,
    });
    const { steps } = planBySlots([low, high], goal(125), { pace, received: 'here' });
    expect(steps.slice(0, 2).map(({ code, place }) => [code, place?.par])).toEqual([
      ['B', 112],
      ['A', 100],
    ]);
  });
});

const farm = fc.record({
  lots: fc.array(
    fc.record({
      par: fc.integer({ min: 40, max: 160 }),
      ceiling: fc.option(fc.integer({ min: 150, max: 400 })),
    }),
    { minLength: 1, maxLength: 5 },
  ),
  places: fc.array(fc.integer({ min: 30, max: 300 }), { maxLength: 25 }),
  goal: fc.integer({ min: 40, max: 150 }),
  ratio: fc.double({ min: 1.05, max: 1.5, noNaN: true }),
});

describe('whatever the farm looks like', () => {
  test('no step goes beyond the ratio over what the lot is then used to, none above its ceiling, no slot is promised twice', () => {
    fc.assert(
      fc.property(farm, ({ lots, places, goal: wanted, ratio }) => {
        const own = { ...pace, stepRatio: ratio };
        const free = places.map((par, i) => slot(`f${i}`, par));
        const heres = lots.map(({ par }, i) => slot(`h${i}`, par));
        const lotsInPlan = lots.map(({ par, ceiling }, i) =>
          pupil({
            lotId: `l${i}`,
            code: `L${i}`,
            accustomed: daily(par),
            parCeiling: ceiling,
            stepRatio: ratio,
            here: heres[i] ?? null,
            places: [...free, ...heres],
          }),
        );
        const { steps } = planBySlots(lotsInPlan, goal(wanted), { pace: own, received: 'here' });
        for (const lot of lotsInPlan) {
          const mine = steps.filter((step) => step.lotId === lot.lotId);
          const before = accustomedBefore(lot.accustomed, lot.here?.dli ?? 0, mine);
          for (const [i, step] of mine.entries()) {
            const times = step.dli / (before[i] as number);
            expect(times).toBeLessThanOrEqual(ratio + 1e-6);
            expect(1 / times).toBeLessThanOrEqual(ratio + 1e-6);
            if (lot.parCeiling !== null) expect(step.place?.parMax ?? 0).toBeLessThanOrEqual(lot.parCeiling);
          }
        }
        const holder = new Map(heres.map((place, i) => [place.name, `l${i}`]));
        for (const { lotId, place } of steps) {
          if (place === null) continue;
          expect(holder.get(place.name) ?? lotId).toBe(lotId);
          for (const [name, who] of [...holder]) if (who === lotId) holder.delete(name);
          holder.set(place.name, lotId);
        }
      }),
      { numRuns: 300 },
    );
  });
});

describe('a recovery', () => {
  test('goes dimmer at once, rests four weeks, and rises half as fast from there', () => {
    const lot = pupil({
      accustomed: daily(120),
      here: slot('here', 120),
      places: slots([20, 50, 55, 60, 66, 110]),
    });
    const { steps } = planRecovery([lot], daily(50), goal(66), pace);
    expect(steps[0]).toMatchObject({ day: 0, par: 50 });
    expect(pars(steps)).toEqual([50, 55, 60, 66]);
    expect(steps.map((step) => step.day)).toEqual([0, 28, 42, 56]);
  });

  test('says so where no dimmer place is free', () => {
    const { steps } = planRecovery([pupil({ places: slots([88]) })], daily(50), goal(66), pace);
    expect(steps[0]?.place).toBeNull();
  });
});

const beneath = (more: Partial<Beneath> = {}): Beneath => ({
  lotId: 'a',
  code: 'A',
  accustomed: daily(110),
  ...pace,
  parCeiling: null,
  dli: daily(110),
  par: 110,
  ...more,
});

describe('a ramp of lamps', () => {
  test('raises a rack from 110 to 165 in as many steps as the arithmetic of adaptation asks for', () => {
    const { steps } = planLamps([beneath()], 60, 90);
    const exact = acclimationSchedule(daily(110), daily(165), {
      maxStepRatio: 1.15,
      dwellDays: 7,
      timeConstantDays: 10,
    });
    expect(steps).toHaveLength(exact.length);
    for (const [i, step] of steps.entries())
      expect(Math.abs((daily(110) * step.percent) / 60 - (exact[i]?.dailyLight ?? 0))).toBeLessThan(
        daily(110) * 0.03,
      );
    expect(steps.at(-1)?.percent).toBe(90);
  });

  test('keeps every lot beneath within its own step, says which make it slow and what is gained without them', () => {
    const slow = beneath({ lotId: 'b', code: 'B', stepRatio: 1.08 });
    const plan = planLamps([beneath(), slow], 60, 90);
    expect(plan.slow?.codes).toEqual(['B']);
    expect(plan.slow?.days).toBeLessThan(plan.days);
  });

  test('names the lots above their ceiling, and the setting at which they reach it', () => {
    expect(planLamps([beneath({ parCeiling: 150 })], 60, 90).above).toEqual([{ code: 'A', percent: 81 }]);
  });

  test('waits before the first turn where they have not settled in today’s light', () => {
    expect(planLamps([beneath({ accustomed: daily(90) })], 60, 90).steps[0]?.day).toBeGreaterThan(0);
  });

  test('never steps a lot beyond its ratio over what it is used to', () => {
    const lot = fc.record({
      par: fc.integer({ min: 40, max: 300 }),
      used: fc.double({ min: 0.8, max: 1.2, noNaN: true }),
      ratio: fc.double({ min: 1.06, max: 1.5, noNaN: true }),
    });
    fc.assert(
      fc.property(
        fc.array(lot, { minLength: 1, maxLength: 6 }),
        fc.integer({ min: 20, max: 100 }),
        (lots, to) => {
          const under = lots.map(({ par, used, ratio }, i) =>
            beneath({ code: `L${i}`, par, dli: daily(par), accustomed: daily(par) * used, stepRatio: ratio }),
          );
          const { steps } = planLamps(under, 50, to);
          for (const one of under) {
            const pieces = [
              { fromDay: 0, dailyLight: one.dli },
              ...steps.map(({ day, percent }) => ({ fromDay: day, dailyLight: (one.dli * percent) / 50 })),
            ];
            const before = accustomedAt(
              pieces,
              one.adaptationDays,
              one.accustomed,
              steps.map((step) => step.day),
            );
            for (const [i, step] of steps.entries()) {
              const times = (one.dli * step.percent) / 50 / (before[i] as number);
              if (to > 50) expect(times).toBeLessThanOrEqual(one.stepRatio + 1e-6);
              else expect(1 / times).toBeLessThanOrEqual(one.stepRatio + 1e-6);
            }
          }
        },
      ),
      { numRuns: 200 },
    );
  });
});

test('how long until a step is borne follows from first-order adaptation', () => {
  const days = daysUntilBearable(4, 5, 5.5, { stepRatio: 1.2, adaptationDays: 10 }) ?? 0;
  const [used = 0] = accustomedAt([{ fromDay: 0, dailyLight: 5 }], 10, 4, [days]);
  expect(used * 1.2).toBeCloseTo(5.5, 9);
  expect(daysUntilBearable(4, 4, 8, { stepRatio: 1.2, adaptationDays: 10 })).toBeNull();
});

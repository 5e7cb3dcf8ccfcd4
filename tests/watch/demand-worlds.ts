import { type Random, seededRandom } from '../../src/science/statistics/random.ts';
import { convertDifference } from '../../src/science/units.ts';
import type { ChangeFact, DoseFact, ReadingFact, SystemFacts } from '../../src/watch/facts/types.ts';
import { blankSystem, dayZero, madeId, onDay, reading, waterChange } from './facts.ts';

/** A system whose stock uses alkalinity and calcium, as a farm would have logged it; dKH and days throughout. */
export interface UsePlan {
  seed: number;
  days: number;
  /** Days between alkalinity tests, and the test's SD. */
  gap?: number;
  testSd?: number;
  /** The water's own swing around its level, AR(1) with 0.6 a day. */
  swing?: number;
  /** Used a day, and the part by which that grows a day. */
  use?: number;
  growth?: number;
  /** From this day on the use is multiplied by `factor`. */
  onset?: number;
  factor?: number;
  /** Doses up to 8.5 dKH once a week right after the test, instead of a daily dose that somebody adjusts. */
  weekly?: boolean;
  /** mg/L of calcium used a meq/L. */
  calciumRatio?: number;
}

/** One dKH in meq/L. */
export const dkh = convertDifference('alkalinity', 1, 'dKH', 'meq/L');

/**
 * Use that differs from day to day by 8 % (AR(1), 0.8 a day), doses by hand that follow it slowly, raised at once where a
 * test is below 7.2 dKH and left out while one is above 9.2, weekly changes of 10 to 15 % of which a tenth is not logged, kits that differ by 3 %, 1 % slips; calcium tested weekly with an SD of 10 mg/L.
 */
export function useWorld(plan: UsePlan): SystemFacts {
  const { seed, days, gap = 1, weekly = false } = plan;
  const random = seededRandom(seed);
  const state = {
    level: 8.2,
    calcium: 430,
    swing: 0,
    day: 0,
    usual: 1,
    dose: plan.use ?? 0.4,
    paused: false,
  };
  const log = {
    alkalinity: [] as ReadingFact[],
    calcium: [] as ReadingFact[],
    doses: [] as DoseFact[],
    changes: [] as ChangeFact[],
  };
  let [nextTest, kit] = [0, { until: 0, bias: 0, id: '' }];
  for (let day = 0; day < days; day++) {
    state.day = day;
    if (day >= kit.until)
      kit = { until: day + 60 + random.below(61), bias: random.uniform() < 0.5 ? -0.03 : 0.03, id: madeId() };
    const used = useOn(plan, state, random);
    if (day >= nextTest) {
      nextTest = day + (weekly ? 7 : Math.max(1, Math.round(gap * (0.8 + 0.4 * random.uniform()))));
      test(plan, state, log, kit, random);
    }
    if (!weekly && !state.paused) give(log, state, day, state.dose * (1 + 0.05 * random.normal()));
    const calciumUsed = used * dkh * (plan.calciumRatio ?? 20.04);
    state.level -= used;
    state.calcium -= calciumUsed;
    if (day % 7 === 2) testCalcium(state, log, calciumUsed, random);
    if (day % 7 === 3) change(state, log, random);
  }
  const kept = { bandLow: null, bandHigh: null, limitHigh: null, source: 'the test' };
  return blankSystem({
    kept: new Map([
      ['alkalinity', { ...kept, makeUp: 9 * dkh }],
      ['calcium', { ...kept, makeUp: 440 }],
    ]),
    readings: new Map([
      ['alkalinity', log.alkalinity],
      ['calcium', log.calcium],
    ]),
    doses: log.doses,
    changes: log.changes,
  });
}

type State = {
  level: number;
  calcium: number;
  swing: number;
  day: number;
  usual: number;
  dose: number;
  paused: boolean;
};
type Log = { alkalinity: ReadingFact[]; calcium: ReadingFact[]; doses: DoseFact[]; changes: ChangeFact[] };

function useOn(plan: UsePlan, state: State, random: Random): number {
  const { use = 0.4, growth = 0, onset = Infinity, factor = 1, swing = 0.1 } = plan;
  state.usual = 1 + 0.8 * (state.usual - 1) + 0.6 * 0.08 * random.normal();
  state.swing = 0.6 * state.swing + 0.8 * swing * random.normal();
  return use * (1 + growth * state.day) * (state.day >= onset ? factor : 1) * state.usual;
}

function test(
  { testSd = 0.1, weekly = false }: UsePlan,
  state: State,
  log: Log,
  kit: { bias: number; id: string },
  random: Random,
): void {
  const slip = random.uniform() < 0.01 ? (random.uniform() < 0.5 ? -0.8 : 0.8) : 0;
  const value = (state.level + state.swing) * (1 + kit.bias) + testSd * random.normal() + slip;
  log.alkalinity.push(reading(state.day + 0.35, value * dkh, testSd * dkh, { kitId: kit.id }));
  if (weekly) give(log, state, state.day, Math.max(0, 8.5 - value), 0.95 + 0.1 * random.uniform());
  else hold(state, log, value);
  if (!weekly && random.uniform() < 0.1) state.dose = Math.max(0, state.dose + 0.1 * (8.2 - value));
}

/** Nobody lets alkalinity swing for weeks: too low is raised to 8.2 dKH, too high is let down without doses; own choice. */
function hold(state: State, log: Log, value: number): void {
  state.paused = value > 9.2;
  if (value < 7.2) give(log, state, state.day, 8.2 - value);
}

function testCalcium(state: State, log: Log, usedADay: number, random: Random): void {
  const value = state.calcium + 10 * random.normal();
  log.calcium.push(reading(state.day + 0.35, value, 10));
  const rise = Math.max(0, 7 * usedADay + 0.2 * (430 - value));
  log.doses.push(dose(state.day + 0.36, 'calcium', rise));
  state.calcium += rise;
}

function give(log: Log, state: State, day: number, rise: number, works = 1): void {
  log.doses.push(dose(day + 0.4, 'alkalinity', rise * dkh));
  state.level += rise * works;
}

function change(state: State, log: Log, random: Random): void {
  const fraction = 0.1 + 0.05 * random.uniform();
  state.level = state.level * (1 - fraction) + 9 * fraction;
  state.calcium = state.calcium * (1 - fraction) + 440 * fraction;
  if (random.uniform() > 0.1) log.changes.push(waterChange(state.day + 0.5, fraction));
}

/** A dose whose effect is known. */
export const dose = (day: number, quantityCode: string, rise: number): DoseFact => ({
  id: madeId(),
  day: dayZero + day,
  at: onDay(day).toISOString(),
  substance: 'made by hand',
  quantityCode,
  rise,
});

/** What a farm knew of such a world on a day. */
export function knownOn(facts: SystemFacts, day: number): SystemFacts {
  const until = <T extends { day: number }>(all: readonly T[]) =>
    all.filter((one) => one.day <= dayZero + day);
  return {
    ...facts,
    readings: new Map([...facts.readings].map(([code, all]) => [code, until(all)])),
    doses: until(facts.doses),
    left: until(facts.left),
    looked: facts.looked.filter(({ toDay }) => toDay <= dayZero + day),
    changes: until(facts.changes),
  };
}

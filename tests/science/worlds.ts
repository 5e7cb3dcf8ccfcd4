import type { NitrateHistory, NitrateReading, WaterChange } from '../../src/science/filter/nitrate-types.ts';
import { type Random, seededRandom } from '../../src/science/statistics/random.ts';

/** A simulated system whose nitrate creeps: what is really so, and what a farm would have logged of it. */
export interface CreepWorld {
  log: NitrateHistory;
  /** True level at the end of each day. */
  levels: number[];
}

export interface CreepPlan {
  seed: number;
  days: number;
  /** Day from which production is up by `rise`/7 mg/L a day; or changes cease when `stop` is set. */
  onset: number;
  rise?: number;
  stop?: boolean;
  relativeSd?: number;
  /** Mean days between tests. */
  gap?: number;
  level?: number;
  /** Part of the changes that is not logged. */
  unlogged?: number;
}

/**
 * Weekly changes of 10 to 15 %, one day early or late, a tenth not logged; log-normal test error, 2 % gross slips;
 * a new kit every 60 to 120 days that reads 8 % high or low.
 */
export function creepWorld(plan: CreepPlan): CreepWorld {
  const { seed, days, onset, rise = 0, stop = false, relativeSd = 0.1, gap = 7, unlogged = 0.1 } = plan;
  const random = seededRandom(seed);
  const base = (plan.level ?? 8) * (1 + 0.1 * random.normal());
  const makeUp = random.uniform();
  const production = (base - makeUp) / (7 * (1 / 0.125 - 0.5));
  const readings: NitrateReading[] = [];
  const changes: WaterChange[] = [];
  const kitOpenings: number[] = [];
  const levels: number[] = [];
  let [level, nextChange, nextTest, nextKit, bias] = [base, 3, 1, 0, 0];
  for (let day = 0; day < days; day++) {
    level += production + (day >= onset ? rise / 7 : 0);
    if (day >= nextKit) {
      bias = random.uniform() < 0.5 ? 0.08 : -0.08;
      nextKit = day + 60 + random.below(61);
      kitOpenings.push(day);
    }
    if (day >= nextTest) {
      readings.push({ day, value: level * (1 + bias) * testError(relativeSd, random), relativeSd });
      nextTest = day + Math.max(1, Math.round(gap * (0.7 + 0.6 * random.uniform())));
    }
    if (day >= nextChange) {
      nextChange += 7;
      const fraction = 0.1 + 0.05 * random.uniform();
      if (!(stop && day >= onset)) {
        level = level * (1 - fraction) + makeUp * fraction;
        if (random.uniform() >= unlogged) changes.push({ day, fraction, makeUp });
      }
    }
    levels.push(level);
  }
  return { log: { readings, changes, kitOpenings }, levels };
}

function testError(relativeSd: number, random: Random): number {
  const gross = random.uniform() < 0.02 ? 2 ** (2 * random.uniform() - 1) : 1;
  return gross * Math.exp(relativeSd * random.normal());
}

export interface AlkalinityPlan {
  seed: number;
  days: number;
  onset: number;
  /** Test SD and usual swing, dKH. */
  testSd?: number;
  swing?: number;
  /** What the swing's SD is multiplied by from the onset. */
  factor?: number;
  /** Fall from the onset, dKH a day. */
  fall?: number;
  /** Days between tests. */
  gap?: number;
}

/** Alkalinity around 8.2 dKH: AR(1) with 0.6 a day, tests with 1 % slips of 0.5 to 1.5 dKH and 5 % missed. */
export function alkalinityWorld(plan: AlkalinityPlan): { day: number; value: number; sd: number }[] {
  const { seed, days, onset, testSd = 0.1, swing = 0.1, factor = 1, fall = 0, gap = 1 } = plan;
  const random = seededRandom(seed);
  const readings: { day: number; value: number; sd: number }[] = [];
  let shape = random.normal();
  for (let day = 0; day < days; day++) {
    shape = 0.6 * shape + 0.8 * random.normal();
    const level = 8.2 - fall * Math.max(0, day - onset) + swing * (day >= onset ? factor : 1) * shape;
    if (day % gap !== 0 || random.uniform() < 0.05) continue;
    const slip = random.uniform() < 0.01 ? (random.uniform() < 0.5 ? -1 : 1) * (0.5 + random.uniform()) : 0;
    readings.push({ day, value: level + slip + testSd * random.normal(), sd: testSd });
  }
  return readings;
}

/** The middle value; Infinity counts as the largest. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) / 2)] ?? Number.NaN;
}

/** How a careful hand checks a kit: two tests of one standard that differ by more than 4.2 u of a test get a third. */
export function needsThirdTest(a: number, b: number, known: number, u: number): boolean {
  return Math.abs(a - b) > 4.2 * u * known;
}

import { type Random, seededRandom } from '../../../src/science/statistics/random.ts';
import type {
  ChangeFact,
  DoseFact,
  LeftFact,
  LookedFact,
  ReadingFact,
} from '../../../src/watch/facts/types.ts';
import { dkh, dose } from '../../watch/demand-worlds.ts';
import { reading, waterChange } from '../../watch/facts.ts';
import { kitDays, type Logged } from './world.ts';

/** Use of a farm that is not in control of everything: all that differs from the plain world of use, and no trouble yet. */
export interface RoughDemandPlan {
  /** Days between tests, and their SD in dKH. */
  gap: number;
  testSd: number;
  /** By how much the use grows a week; drawn between 0 and 4 % where it is left out. */
  growth?: number;
  /** A third of the stock is sold every so many days on average, in the ledger; never where it is left out. */
  saleEvery?: number;
  /** The container of the doser is looked into, and filled, once a week. */
  looked?: boolean;
  /** What the use is multiplied by from the onset; 1 for none. */
  factor: number;
  /** From the onset the doser gives what it is told times this. */
  gives: number;
  /** From the onset it gives each day what it is told, more or less by up to this share; 0 for none. */
  swings: number;
  /** A third of the stock is sold on the onset. */
  soldAtOnset?: boolean;
  /** From the onset the water swings so many times as much. */
  swingTimes?: number;
  /** From the onset so much more goes a day, dKH, and nobody turns the doser, doses by hand or stops it. */
  fall?: number;
  days: number;
  onset: number;
}

/** Use a day at the onset, dKH. */
const useAtOnset = 0.5;
const makeUp = 9;
const soldShare = 1 / 3;
/** After a test the doser is turned with this chance, by this part of what the level is off, a day. */
const turned = { chance: 0.37, by: 0.12 };
/** The second tester reads so much higher, and makes so many of the tests. */
const second = { bias: 0.08, share: 0.4 };
/** What the doser's container holds, as the rise of the level that it makes, dKH. */
const containerL = 5;
const doserId = 'the doser';

/** What truly befell the water of one day, but for chance; dKH. Only who knows the model asks for it. */
export interface RoughInputs {
  /** The test without what bottle and tester read wrong; null without one. */
  read: number | null;
  /** By hand, and by the doser as it is set. */
  dosed: number;
  given: number;
  /** As usual for the stock of the day. */
  use: number;
  /** Of the change of water, and the level of what was put in. */
  fraction: number;
  makeUp: number;
}

interface State {
  level: number;
  usual: number;
  stock: number;
  set: number;
  gain: number;
  swing: number;
  paused: boolean;
  /** What went out of the container since it was looked into, and what was told; dKH. */
  lost: number;
  told: number;
}

/**
 * Stock that grows by 0 to 4 % a week and of which a third is sold now and then (kept in the ledger; the use falls by 25 to 40 %); a doser that is turned by people after their tests and drifts by 5 %; two testers, of whom one reads
 * higher; weekly changes of which a tenth is not logged and a tenth is logged with another volume; kits that differ by 3 %;
 * slips. Whoever finds the level below 7.2 dKH doses by hand, above 9.2 dKH stops the doser until it is down.
 */
export function roughDemandWorld(plan: RoughDemandPlan, seed: number): Logged {
  const random = seededRandom(seed);
  const growth = plan.growth ?? 0.04 * random.uniform();
  const kits = new Set(kitDays(plan.days, random));
  const sales = saleDays(plan.saleEvery, plan.days, random);
  const log = {
    readings: [] as ReadingFact[],
    doses: [] as DoseFact[],
    changes: [] as ChangeFact[],
    left: [] as LeftFact[],
    looked: [] as LookedFact[],
    truth: [] as number[],
    inputs: [] as RoughInputs[],
  };
  const useOf = (day: number) => useAtOnset * (1 + growth) ** ((day - Math.min(plan.onset, plan.days)) / 7);
  const state: State = {
    ...{ level: 8.2, usual: 1, stock: 1, set: useOf(0), gain: 1, swing: 0, paused: false, lost: 0, told: 0 },
  };
  let [nextTest, kit] = [0, { id: '', bias: 0 }];
  for (let day = 0; day < plan.days; day++) {
    if (kits.has(day)) kit = { id: `kit ${day}`, bias: random.uniform() < 0.5 ? -0.03 : 0.03 };
    if (sales.has(day) || (plan.soldAtOnset && day === plan.onset)) sell(state, log.left, day, random);
    state.usual = 1 + 0.8 * (state.usual - 1) + 0.6 * 0.08 * random.normal();
    const since = day >= plan.onset;
    state.swing = 0.6 * state.swing + 0.08 * (since ? (plan.swingTimes ?? 1) : 1) * random.normal();
    log.truth.push(state.level + state.swing);
    const input: RoughInputs = { read: null, dosed: 0, given: 0, use: 0, fraction: 0, makeUp };
    log.inputs.push(input);
    if (day >= nextTest) {
      nextTest = day + Math.max(1, Math.round(plan.gap * (0.7 + 0.6 * random.uniform())));
      const before = state.level;
      input.read = test(plan, state, log, { day, ...kit }, random);
      input.dosed = state.level - before;
    }
    if (!state.paused) input.given = state.set;
    giveByDoser(plan, state, log, day, random);
    if (since) state.level -= plan.fall ?? 0;
    input.use = useOf(day) * state.stock;
    state.level -= input.use * (day >= plan.onset ? plan.factor : 1) * state.usual;
    if (day % 7 === 3) input.fraction = change(state, log.changes, day, random);
    if (day % 7 !== 5) continue;
    if (plan.looked) look(state, log.looked, day, random);
    [state.lost, state.told] = [0, 0];
  }
  return { code: 'alkalinity', ...log, makeUp: makeUp * dkh };
}

/** Buyers take pieces that use more or less than the others. */
function sell(state: State, left: LeftFact[], day: number, random: Random): void {
  state.stock *= 1 - (0.25 + 0.15 * random.uniform());
  left.push({ day: reading(day, 0, 0).day, share: soldShare });
}

/** Days of sales, between half and one and a half times as far apart as on average; the first anywhere in the first while. */
function saleDays(every: number | undefined, days: number, random: Random): Set<number> {
  const sold = new Set<number>();
  if (every === undefined) return sold;
  for (
    let day = Math.floor(every * random.uniform());
    day < days;
    day += Math.round(every * (0.5 + random.uniform()))
  )
    sold.add(day);
  return sold;
}

type Log = { readings: ReadingFact[]; doses: DoseFact[] };

/** Writes a test down, and does what people do about it; gives it without what bottle and tester read wrong. */
function test(
  { testSd, fall, onset }: RoughDemandPlan,
  state: State,
  log: Log,
  { day, id, bias }: { day: number; id: string; bias: number },
  random: Random,
): number {
  const slip = random.uniform() < 0.01 ? (random.uniform() < 0.5 ? -0.8 : 0.8) : 0;
  const tester = random.uniform() < second.share ? second.bias : 0;
  const off = testSd * random.normal() + slip;
  const clean = state.level + state.swing + off;
  const value = (state.level + state.swing) * (1 + bias) + tester + off;
  log.readings.push(reading(day + 0.35, value * dkh, testSd * dkh, { kitId: id }));
  if (fall !== undefined && day >= onset) return clean;
  state.paused = value > 9.2;
  if (value < 7.2) {
    log.doses.push(dose(day + 0.4, 'alkalinity', (8.2 - value) * dkh));
    state.level += 8.2 - value;
  }
  if (random.uniform() < turned.chance) state.set = Math.max(0, state.set + turned.by * (8.2 - value));
  return clean;
}

function giveByDoser(plan: RoughDemandPlan, state: State, log: Log, day: number, random: Random): void {
  state.gain += -0.02 * (state.gain - 1) + 0.01 * random.normal();
  if (state.paused) return;
  const since = day >= plan.onset;
  const by =
    since && plan.swings > 0
      ? (random.uniform() < 0.5 ? -1 : 1) * plan.swings * (0.55 + 0.45 * random.uniform())
      : 0;
  const given = state.set * state.gain * (since ? plan.gives : 1) * (1 + by);
  log.doses.push({ ...dose(day + 0.95, 'alkalinity', state.set * dkh), doserId });
  state.level += given;
  state.lost += given;
  state.told += state.set;
}

/** Changes water, and gives which part. */
function change(state: State, changes: ChangeFact[], day: number, random: Random): number {
  const fraction = 0.1 + 0.05 * random.uniform();
  state.level += (makeUp - state.level) * fraction;
  const chance = random.uniform();
  if (chance >= 0.1)
    changes.push(waterChange(day + 0.5, chance < 0.2 ? fraction * (0.5 + random.uniform()) : fraction));
  return fraction;
}

/** Once a week somebody looks into the container, to a fiftieth of it, and fills it. */
function look({ lost, told }: State, looked: LookedFact[], day: number, random: Random): void {
  const seen = lost + 0.1 * containerL * 0.2 * random.normal();
  const at = reading(day + 0.97, 0, 0).day;
  if (told > 0 && day > 7)
    looked.push({ doserId, quantityCode: 'alkalinity', fromDay: at - 7, toDay: at, factor: seen / told });
}

import { type AlkalinityPlan, alkalinityWorld } from './alkalinity-world.ts';
import { countAlerts, type Delays, delayOf, openShare, quantile, shorten } from './counting.ts';
import { type DemandPlan, demandWorld } from './demand-world.ts';
import { follow, type Look } from './following.ts';
import { type NitratePlan, nitrateWorld } from './nitrate-world.ts';
import { type Rival, rivalsOf, slopeOf } from './rivals.ts';
import { type RoughDemandPlan, roughDemandWorld } from './rough-demand-world.ts';
import type { Tried } from './settings.ts';
import { alertRate, tuneLimit } from './tuning.ts';
import type { Logged } from './world.ts';

type Span = 'days' | 'onset';
export type Water =
  | { quantity: 'nitrate'; plan: Omit<NitratePlan, Span | 'trouble'> }
  | { quantity: 'alkalinity'; plan: Omit<AlkalinityPlan, Span | 'factor' | 'fall'> }
  | { quantity: 'demand'; plan: Omit<DemandPlan, Span | 'factor'> }
  | { quantity: 'rough demand'; plan: Omit<RoughDemandPlan, Span | RoughTrouble> };
type RoughTrouble = 'factor' | 'gives' | 'swings' | 'soldAtOnset' | 'swingTimes' | 'fall';

/** A trouble that begins on a day, with the aim that the study sets, days in the median. */
export interface Trouble {
  name: string;
  nitrate?: NitratePlan['trouble'];
  factor?: number;
  fall?: number;
  gives?: number;
  swings?: number;
  soldAtOnset?: boolean;
  swingTimes?: number;
  /** Told only where it is told so many days before the level is truly below another, in the world's own unit. */
  before?: { level: number; days: number };
  /** The rule is to be silent, or to leave the word to another: what it says by itself names a wrong cause. */
  wrong?: boolean;
  aim?: number;
  /** The share that is to be told within the days of its row. */
  shareAim?: number;
  /** The median the study reached. */
  study?: string;
}

/** One habit of testing one water: false alerts without trouble, then how soon each trouble is found. */
export interface WaterJob {
  kind: 'water';
  rule: string;
  heading: string;
  water: Water;
  troubles: Trouble[];
  /** Found within this many days counts in the share. */
  within: number;
  rateAim: number;
  /** The most days without trouble on which the alert stands, as a part. */
  openAim?: number;
  systems: number;
  onsets: number;
  seed: number;
  /** Seeds for the rivals' limits. */
  tuneSeed: number;
  tried: Tried;
}

export interface WaterResult {
  kind: 'water';
  job: WaterJob;
  years: number;
  rate: number;
  /** The same of those that began while the water was about as steady as ever, where the truth is known. */
  steadyRate: number;
  /** Part of the days in control at which a false alert stood open. */
  open: number;
  rivals: { name: string; limit: number; rate: number }[];
  /** `both`: share of the first alerts on a fall that name a swing beside it. */
  troubles: { trouble: Trouble; rule: Delays; both: number; rivals: Delays[] }[];
  asked: number;
  checked: number;
  missed: number;
}

/** Days of history before anything counts, as in the study. */
const baseline = { nitrate: 240, alkalinity: 180, demand: 180, 'rough demand': 180 };
const controlDays = 730;
const followDays = { nitrate: 240, alkalinity: 150, demand: 120, 'rough demand': 60 };
const yearDays = 365;
const lookBack = 31;

const never = Number.POSITIVE_INFINITY;

function grow(water: Water, trouble: Trouble | null, days: number, onset: number, seed: number): Logged {
  const {
    nitrate = 'none',
    factor = 1,
    fall = 0,
    gives = 1,
    swings = 0,
    soldAtOnset = false,
    swingTimes = 1,
  } = trouble ?? {};
  if (water.quantity === 'nitrate')
    return nitrateWorld({ ...water.plan, days, onset, trouble: nitrate }, seed);
  if (water.quantity === 'demand') return demandWorld({ ...water.plan, days, onset, factor }, seed);
  if (water.quantity === 'rough demand')
    return roughDemandWorld(
      {
        ...{ ...water.plan, days, onset, factor, gives, swings, soldAtOnset, swingTimes },
        ...(fall === 0 ? {} : { fall }),
      },
      seed,
    );
  return alkalinityWorld({ ...water.plan, days, onset, factor, fall }, seed);
}

const timesOf = <T>(count: number, make: (i: number) => T): T[] =>
  Array.from({ length: count }, (_, i) => make(i));
const sumOf = <T>(all: readonly T[], of: (one: T) => number): number =>
  all.reduce((sum, one) => sum + of(one), 0);

/** Runs one job; the same job gives the same result on every machine. */
export function runWater(job: WaterJob): WaterResult {
  const { years, rate, steadyRate, open, followed, rivals } = runCalm(job);
  const troubles = job.troubles.map((trouble, n) => findTrouble(job, trouble, n + 1, rivals));
  const all = [...followed, ...troubles.flatMap((one) => one.followed)];
  return {
    kind: 'water',
    job,
    years,
    rate,
    steadyRate,
    open,
    rivals: rivals.map(({ rival, limit, rate: own }) => ({ name: rival.name, limit, rate: own })),
    troubles: troubles.map(({ followed: _, ...told }) => told),
    asked: sumOf(all, ({ asked }) => asked),
    checked: sumOf(all, ({ checked }) => checked),
    missed: sumOf(all, ({ missed }) => missed),
  };
}

/** Systems without trouble: the rule's false alerts, and the limits at which its rivals have as many. */
function runCalm({ water, systems, tried, rule, seed, tuneSeed }: WaterJob) {
  const from = baseline[water.quantity];
  const years = (systems * controlDays) / yearDays;
  const rivals = rivalsOf(rule, water.quantity === 'rough demand');
  const seriesOf = (world: Logged) =>
    rivals.map((rival) => rival.values(world).filter(({ day }) => day >= from));
  const calm = (of: number) => grow(water, null, from + controlDays, never, of);
  const watched = timesOf(systems, (i) => {
    const world = calm(seed + i);
    const followed = follow(world, rule, tried, { from: from - lookBack });
    return { followed: { ...followed, looks: openFalsely(world, followed.looks) }, series: seriesOf(world) };
  });
  const other = timesOf(systems, (i) => seriesOf(calm(tuneSeed + i)));
  const followed = watched.map((one) => one.followed);
  const rate = sumOf(followed, ({ looks }) => countAlerts(looks, from)) / years;
  return {
    years,
    rate,
    steadyRate: sumOf(followed, ({ looks }) => countAlerts(looks, from, ({ open }) => open === true)) / years,
    open: sumOf(followed, ({ looks }) => openShare(looks, from)) / systems,
    followed: followed.map(({ looks: _, ...counts }) => counts),
    rivals: rivals.map((rival, r) => {
      const series = (of: readonly ReturnType<typeof seriesOf>[]) => of.map((one) => one[r] ?? []);
      const limit = rival.fixed ?? tuneLimit(series(other), rate, from, years);
      const own = series(watched.map((one) => one.series));
      return { rival, limit, rate: alertRate(own, limit, from, years) };
    }),
  };
}

/** Seeds of one trouble begin this far after those of the one before. */
const apart = 10_000;

function findTrouble(
  { water, onsets, seed, rule, tried, within }: WaterJob,
  trouble: Trouble,
  n: number,
  rivals: readonly { rival: Rival; limit: number }[],
) {
  const onset = baseline[water.quantity];
  const days = onset + followDays[water.quantity];
  const runs = timesOf(onsets, (i) => {
    const world = grow(water, trouble, days, onset, seed + n * apart + i);
    const { looks, ...counts } = follow(world, rule, tried, { from: onset - lookBack, untilAfter: onset });
    const theirs = rivals.map(({ rival, limit }) =>
      inTime(delayOf(rivalLooks(rival, world, limit), onset), world, trouble, onset),
    );
    const told = trouble.wrong ? looks.map((look) => ({ ...look, above: look.own === true })) : looks;
    const first = told.find(({ day, above }) => above && day >= onset);
    return { counts, delay: inTime(delayOf(told, onset), world, trouble, onset), first, theirs };
  });
  const firsts = runs.flatMap(({ first }) => first ?? []);
  return {
    trouble,
    rule: shorten(
      runs.map(({ delay }) => delay),
      within,
    ),
    both: firsts.filter(({ both }) => both === true).length / Math.max(1, firsts.length),
    rivals: rivals.map((_, r) =>
      shorten(
        runs.map(({ theirs }) => theirs[r] ?? null),
        within,
      ),
    ),
    followed: runs.map(({ counts }) => counts),
  };
}

/** Days over which a level is judged to be unsteady, and by how many times its usual spread about its own line; own choice. */
const [unsteadyDays, unsteadyTimes] = [14, 1.5];

/** Where the truth is known, an alert stands falsely only while the water is about as steady as ever. */
function openFalsely({ truth }: Logged, looks: readonly Look[]): Look[] {
  if (truth === undefined) return [...looks];
  const spreads = truth.map((_, day) =>
    day < unsteadyDays ? 0 : spreadAboutLine(truth.slice(day - unsteadyDays, day + 1)),
  );
  const usual = quantile(spreads.slice(unsteadyDays), 0.5);
  return looks.map((look) => ({
    ...look,
    open: look.open === true && (spreads[Math.floor(look.day)] ?? 0) < unsteadyTimes * usual,
  }));
}

function spreadAboutLine(values: readonly number[]): number {
  const points = values.map((value, day) => ({ day, value }));
  const slope = slopeOf(points);
  const mean = values.reduce((sum, value) => sum + value / values.length, 0);
  const middle = (values.length - 1) / 2;
  const square = points.reduce(
    (sum, { day, value }) => sum + (value - mean - slope * (day - middle)) ** 2,
    0,
  );
  return Math.sqrt(square / (values.length - 2));
}

/** The delay, where that leaves as many days before the level is passed as are asked for; else never. */
function inTime(
  delay: number | null,
  { truth = [] }: Logged,
  { before }: Trouble,
  onset: number,
): number | null {
  if (delay === null || before === undefined) return delay;
  const passed = truth.findIndex((level, day) => day >= onset && level < before.level);
  return passed === -1 || delay <= passed - onset - before.days ? delay : never;
}

const rivalLooks = (rival: Rival, world: Logged, limit: number) =>
  rival.values(world).map(({ day, value }) => ({ day, above: value >= limit }));

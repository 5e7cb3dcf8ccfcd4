import { type AlkalinityPlan, alkalinityWorld } from './alkalinity-world.ts';
import { countAlerts, type Delays, delayOf, shorten } from './counting.ts';
import { follow } from './following.ts';
import { type NitratePlan, nitrateWorld } from './nitrate-world.ts';
import { type Rival, risingRivals, swingingRivals } from './rivals.ts';
import type { Tried } from './settings.ts';
import { alertRate, tuneLimit } from './tuning.ts';
import type { Logged } from './world.ts';

type Span = 'days' | 'onset';
export type Water =
  | { quantity: 'nitrate'; plan: Omit<NitratePlan, Span | 'trouble'> }
  | { quantity: 'alkalinity'; plan: Omit<AlkalinityPlan, Span | 'factor' | 'fall'> };

/** A trouble that begins on a day, with the aim that the study sets, days in the median. */
export interface Trouble {
  name: string;
  nitrate?: NitratePlan['trouble'];
  factor?: number;
  fall?: number;
  aim?: number;
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
  rivals: { name: string; limit: number; rate: number }[];
  troubles: { trouble: Trouble; rule: Delays; rivals: Delays[] }[];
  asked: number;
  checked: number;
  missed: number;
}

/** Days of history before anything counts, as in the study. */
const baseline = { nitrate: 240, alkalinity: 180 };
const controlDays = 730;
const followDays = { nitrate: 240, alkalinity: 150 };
const yearDays = 365;
const lookBack = 31;

const never = Number.POSITIVE_INFINITY;

function grow(water: Water, trouble: Trouble | null, days: number, onset: number, seed: number): Logged {
  return water.quantity === 'nitrate'
    ? nitrateWorld({ ...water.plan, days, onset, trouble: trouble?.nitrate ?? 'none' }, seed)
    : alkalinityWorld(
        { ...water.plan, days, onset, factor: trouble?.factor ?? 1, fall: trouble?.fall ?? 0 },
        seed,
      );
}

/** Runs one job; the same job gives the same result on every machine. */
export function runWater(job: WaterJob): WaterResult {
  const { water, systems, tried, rule } = job;
  const from = baseline[water.quantity];
  const years = (systems * controlDays) / yearDays;
  const calm = (seed: number) =>
    Array.from({ length: systems }, (_, i) => grow(water, null, from + controlDays, never, seed + i));
  const worlds = calm(job.seed);
  const followed = worlds.map((world) => follow(world, rule, tried, { from: from - lookBack }));
  const rate = followed.reduce((sum, { looks }) => sum + countAlerts(looks, from), 0) / years;
  const other = calm(job.tuneSeed);
  const rivals = (water.quantity === 'nitrate' ? risingRivals : swingingRivals).map((rival) => {
    const series = (of: Logged[]) => of.map((world) => rival.values(world).filter(({ day }) => day >= from));
    const limit = rival.fixed ?? tuneLimit(series(other), rate, from, years);
    return { rival, name: rival.name, limit, rate: alertRate(series(worlds), limit, from, years) };
  });
  const troubles = job.troubles.map((trouble, n) => findTrouble(job, trouble, n + 1, rivals));
  const total = (count: (one: (typeof followed)[number]) => number) =>
    [...followed, ...troubles.flatMap((one) => one.followed)].reduce((sum, one) => sum + count(one), 0);
  return {
    kind: 'water',
    job,
    years,
    rate,
    rivals: rivals.map(({ name, limit, rate: own }) => ({ name, limit, rate: own })),
    troubles: troubles.map(({ followed: _, ...told }) => told),
    asked: total(({ asked }) => asked),
    checked: total(({ checked }) => checked),
    missed: total(({ missed }) => missed),
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
  const worlds = Array.from({ length: onsets }, (_, i) =>
    grow(water, trouble, onset + followDays[water.quantity], onset, seed + n * apart + i),
  );
  const followed = worlds.map((world) =>
    follow(world, rule, tried, { from: onset - lookBack, untilAfter: onset }),
  );
  const delays = followed.map(({ looks }) => delayOf(looks, onset));
  const theirs = rivals.map(({ rival, limit }) =>
    shorten(
      worlds.map((world) => delayOf(rivalLooks(rival, world, limit), onset)),
      within,
    ),
  );
  return { trouble, rule: shorten(delays, within), rivals: theirs, followed };
}

const rivalLooks = (rival: Rival, world: Logged, limit: number) =>
  rival.values(world).map(({ day, value }) => ({ day, above: value >= limit }));

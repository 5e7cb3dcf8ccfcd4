import { daysAfter, daysBetween } from '../../science/numeric/time.ts';
import { type Pest, type PublishedDays, pestOf } from './pests.rules.ts';
import type { WatchState } from './state.ts';

/** The mean of one day, degC; `at` is the start of the day. */
export interface DayTemperature {
  at: Date;
  degC: number;
}

/** Days from `low` (at the warmest day) to `high` (at the coolest); null where no published figure reaches. */
export interface DaysRange {
  low: number | null;
  high: number | null;
  /** Not published at this temperature: the same share of the cycle as where it is (own choice). */
  estimated: boolean;
}

/** What happened in a water, as far as its clock depends on it. */
export interface ClockFacts {
  openedAt: Date;
  sightings: readonly Date[];
  arrivals: readonly Date[];
  looks: readonly { at: Date; found: number }[];
  treatments: readonly Date[];
  temperatures: readonly DayTemperature[];
}

/** Where the clock stands. */
export interface Clock {
  /** From when it counts: the last sighting, arrival or beginning. */
  since: Date;
  sinceWhat: 'sighting' | 'arrival' | 'opening';
  /** Coolest and warmest day since then, degC; null where none was recorded. */
  degC: { low: number; high: number } | null;
  hatch: DaysRange;
  cycle: DaysRange;
  /** From when a clean look counts; null where the cycle is not known. */
  countsFrom: Date | null;
  /** Clean looks that count, two of them at least a week apart; 0, 1 or 2. */
  clean: 0 | 1 | 2;
  clear: boolean;
  nextLook: Date;
  /** It was seen, and nothing was treated since: what was seen may lay already. */
  untreated: boolean;
  /** When a treatment would find what has hatched, before it lays; `until` null where that is not known. */
  treatment: { from: Date; until: Date | null } | null;
}

/** Without figures, and between the two clean looks: a week (common practice). */
export const LOOK_DAYS = 7;

/** With no reading since the clock began, those of so many days before stand for it (own choice). */
const BEFORE_DAYS = 7;

/**
 * Days at one temperature: between two published ones by a linear rate (1/days), outside of them not known.
 * @returns null where nothing is published; a figure without a temperature holds at any
 */
export function daysAt(figures: readonly PublishedDays[], degC: number): number | null {
  const bare = figures.find((figure) => figure.degC === null);
  if (bare !== undefined) return bare.days;
  const sorted = figures
    .flatMap(({ degC: at, days }) => (at === null ? [] : [{ at, days }]))
    .sort((a, b) => a.at - b.at);
  const below = sorted.findLast(({ at }) => at <= degC);
  const above = sorted.find(({ at }) => at >= degC);
  if (below === undefined || above === undefined) return null;
  if (below.at === above.at) return below.days;
  const share = (degC - below.at) / (above.at - below.at);
  return 1 / (1 / below.days + share * (1 / above.days - 1 / below.days));
}

const UNKNOWN: DaysRange = { low: null, high: null, estimated: false };

function rangeOf(figures: readonly PublishedDays[], degC: Clock['degC']): DaysRange {
  if (figures.some((figure) => figure.degC === null)) {
    const days = daysAt(figures, 0);
    return { low: days, high: days, estimated: false };
  }
  if (degC === null) return UNKNOWN;
  return { low: daysAt(figures, degC.high), high: daysAt(figures, degC.low), estimated: false };
}

/** Hatching, where it is published at one temperature only: its share of the cycle there. */
function hatchOf({ hatch, cycle }: Pest, degC: Clock['degC'], range: DaysRange): DaysRange {
  const direct = rangeOf(hatch, degC);
  const [first] = hatch;
  if (direct.high !== null || first?.degC == null) return direct;
  const there = daysAt(cycle, first.degC);
  if (there === null || range.high === null) return direct;
  const share = first.days / there;
  return {
    low: range.low === null ? null : range.low * share,
    high: range.high * share,
    estimated: true,
  };
}

/** Coolest and warmest day since the clock began; else of the week before it. */
function temperatureSpan(days: readonly DayTemperature[], since: Date): Clock['degC'] {
  const after = days.filter(({ at }) => daysBetween(since, at) > -1);
  const used = after.length > 0 ? after : days.filter(({ at }) => daysBetween(at, since) <= BEFORE_DAYS + 1);
  if (used.length === 0) return null;
  const values = used.map(({ degC }) => degC);
  return { low: Math.min(...values), high: Math.max(...values) };
}

const latest = (dates: readonly Date[]): Date | null =>
  dates.reduce<Date | null>((last, at) => (last === null || at > last ? at : last), null);

function beginning(facts: ClockFacts): Pick<Clock, 'since' | 'sinceWhat'> {
  const seen = latest([
    ...facts.sightings,
    ...facts.looks.filter(({ found }) => found > 0).map(({ at }) => at),
  ]);
  const came = latest(facts.arrivals);
  if (came !== null && (seen === null || came > seen) && came > facts.openedAt)
    return { since: came, sinceWhat: 'arrival' };
  return seen !== null && seen >= facts.openedAt
    ? { since: seen, sinceWhat: 'sighting' }
    : { since: facts.openedAt, sinceWhat: 'opening' };
}

/** How many clean looks past the cycle count: two only where they are a week apart. */
function cleanLooks(looks: readonly Date[], from: Date | null): Date[] {
  if (from === null) return [];
  const past = looks.filter((at) => at >= from).sort((a, b) => a.getTime() - b.getTime());
  const [first] = past;
  const second = first === undefined ? undefined : past.find((at) => daysBetween(first, at) >= LOOK_DAYS);
  return [first, second].filter((at) => at !== undefined);
}

/** The time in which a treatment after this moment finds everything hatched and nothing laying yet. */
function treatmentAfter(at: Date, hatch: DaysRange, cycle: DaysRange): Clock['treatment'] {
  if (hatch.high === null) return null;
  const lays = cycle.low === null ? null : cycle.low - (hatch.low ?? hatch.high);
  const from = daysAfter(at, Math.ceil(hatch.high));
  const until = lays === null ? null : daysAfter(at, Math.floor(lays));
  return until !== null && until < from ? { from, until: null } : { from, until };
}

/**
 * The clock of a pest in one water. A treatment, like a look, is followed by the next when the eggs have hatched; a clean
 * look counts once a whole cycle has passed without a sighting or an arrival, at the coolest of the recorded days.
 */
export function clockOf(pest: Pest, facts: ClockFacts): Clock {
  const { since, sinceWhat } = beginning(facts);
  const degC = temperatureSpan(facts.temperatures, since);
  const cycle = rangeOf(pest.cycle, degC);
  const hatch = hatchOf(pest, degC, cycle);
  const countsFrom = cycle.high === null ? null : daysAfter(since, Math.ceil(cycle.high));
  const cleanAts = facts.looks.filter(({ at, found }) => found === 0 && at > since).map(({ at }) => at);
  const counted = cleanLooks(cleanAts, countsFrom);
  const treated = latest(facts.treatments.filter((at) => at >= since));
  const last = latest([since, ...cleanAts, ...facts.treatments.filter((at) => at >= since)]) ?? since;
  const step = countsFrom !== null && last >= countsFrom ? LOOK_DAYS : Math.ceil(hatch.high ?? LOOK_DAYS);
  const next = daysAfter(last, step);
  return {
    ...{ since, sinceWhat, degC, hatch, cycle, countsFrom },
    untreated: sinceWhat === 'sighting' && treated === null,
    clean: counted.length as 0 | 1 | 2,
    clear: counted.length === 2,
    nextLook: countsFrom !== null && last < countsFrom && next > countsFrom ? countsFrom : next,
    treatment: treatmentAfter(treated ?? since, hatch, cycle),
  };
}

/** The clock of a watch. The readings of a system say nothing of a tank whose water is its own. */
export function clockOfWatch(
  watch: Pick<WatchState, 'tankId' | 'pest' | 'openedAt' | 'sightings' | 'arrivals' | 'looks' | 'treatments'>,
  temperatures: readonly DayTemperature[],
): Clock {
  const at = <Row extends { at: Date }>(rows: readonly Row[]) => rows.map((row) => row.at);
  return clockOf(pestOf(watch.pest), {
    openedAt: watch.openedAt,
    sightings: at(watch.sightings),
    arrivals: at(watch.arrivals),
    looks: watch.looks,
    treatments: at(watch.treatments),
    temperatures: watch.tankId === null ? temperatures : [],
  });
}

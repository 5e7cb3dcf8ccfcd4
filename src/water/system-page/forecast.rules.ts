import { levelSinceHabitsChanged, sinceHabitsChanged } from '../../farm/events/habits.rules.ts';
import { andWords } from '../../platform/words/lists.ts';
import { dateWords, whenWords } from '../../platform/words/times.ts';
import { nitrateAhead } from '../../science/filter/nitrate-forecast.ts';
import type { NitrateState } from '../../science/filter/nitrate-types.ts';
import {
  alkalinitySlopeOptions,
  forecastSlope,
  type SlopeOptions,
  type SlopeReading,
  type SlopeStep,
  slopeOptions,
  trackSlope,
} from '../../science/filter/slope.ts';
import { fitSlopeNoise } from '../../science/filter/slope-fit.ts';
import { dayOf, daysAfter } from '../../science/numeric/time.ts';
import type { Run } from '../../science/trend.ts';
import { convertDifference } from '../../science/units.ts';
import { beyondTest, longestSilence, upperMedian } from '../estimates/last-test.rules.ts';
import { steeperRun } from '../estimates/steeper-run.rules.ts';
import { type Quantity, say, sayBand } from '../quantities/quantities.ts';
import type { StoppedThing } from '../trust/stopped.rules.ts';

/** A reading that a forecast uses, in the canonical unit and without its kit's bias. `day`: days since 1970. */
export interface ForecastReading {
  day: number;
  value: number;
  u: number;
  below: boolean;
  above?: boolean;
  confirmed: boolean;
  step: number | null;
  kitId: string | null;
  /** How often a probe reports, in days; null (or left out) for tests by hand. */
  everyDays?: number | null;
}

/** Something that is off for now and without which the level goes another way. */
export type StandingStill = Pick<StoppedThing, 'thing' | 'what' | 'from' | 'doses'>;

/** What a forecast is made from. */
export interface ForecastHistory {
  /** Oldest first. */
  readings: readonly ForecastReading[];
  /** Of nitrate where water changes are logged: the one estimate of it, which the watch goes by as well; else null. */
  nitrate: NitrateState | null;
  /** What changed the habits of the water: the slope is learnt anew from the last of them. */
  events: readonly { day: number }[];
  /** What is off for now: the readings before say nothing of how it goes on. */
  off?: readonly StandingStill[];
  /** The newest reading waits for its repeat: where the level stands is in doubt. */
  inDoubt?: boolean;
}

/** The levels expected from now on, one a day, in the canonical unit; low to high holds nine levels in ten. */
export interface LevelForecast {
  /** What it goes by: production and the habit of water changes, or level and slope. */
  by: 'habit' | 'trend';
  points: { at: Date; value: number; low: number; high: number }[];
}

/** Standard deviations either way that hold nine values in ten of a normal distribution. */
const nineInTen = 1.645;
/** Fewest readings, and the days they must cover; own choice for the trend, the study's for nitrate. */
const required = { habit: { readings: 8, days: 60 }, trend: { readings: 6, days: 5 } };
/** Days since the last reading after which no forecast is made; own choice. */
const maxAge = { habit: 30, trend: 10 };
/** The most days that a forecast reaches ahead; own choice: a slope soon changes, a habit lasts. */
const maxDaysAhead = { habit: 60, trend: 14 };

/** How many days ahead the chart shows beside `days` of the past. */
export const daysAhead = (code: string, days: number): number =>
  Math.min(maxDaysAhead[code === 'nitrate' ? 'habit' : 'trend'], Math.max(3, Math.round(days / 4)));

/**
 * The forecast of a quantity for the next `days` days, today included.
 *
 * @returns null where there are too few readings, the last is too old, in doubt or below detection, something that moves the
 *   level is off, or the level changed so fast of late that it cannot be said how it goes on
 */
export function forecastOf(
  quantity: Quantity,
  history: ForecastHistory,
  now: Date,
  days: number,
): LevelForecast | null {
  const { events, off = [] } = history;
  if (history.inDoubt === true || off.length > 0) return null;
  const readings = levelSinceHabitsChanged(events, history.readings);
  const learnt = sinceHabitsChanged(events, history.readings);
  const today = dayOf(now);
  const [first, last] = [learnt[0], learnt.at(-1)];
  if (first === undefined || last === undefined) return null;
  const span = last.day - first.day;
  const silent = today - last.day;
  const ready = (by: LevelForecast['by']) =>
    learnt.length >= required[by].readings &&
    span >= required[by].days &&
    silent <= Math.min(maxAge[by], longestSilence(learnt));
  if (history.nitrate !== null && ready('habit'))
    return { by: 'habit', points: toPoints(nitrateAhead(history.nitrate, days), now, quantity) };
  if (!ready('trend') || last.below || last.above) return null;
  const path = trendPath(quantity, readings, today, Math.min(days, maxDaysAhead.trend));
  const reached = path.findIndex(
    ({ value }) => value <= quantity.possibleLow || value >= quantity.possibleHigh,
  );
  const possible = reached < 0 ? path : path.slice(0, reached);
  return possible.length < 2 ? null : { by: 'trend', points: toPoints(possible, now, quantity) };
}

/** A level expected on one day, with its standard deviation. */
interface Expected {
  value: number;
  sd: number;
}

function toPoints(
  path: readonly Expected[],
  now: Date,
  { possibleLow, possibleHigh }: Quantity,
): LevelForecast['points'] {
  const possible = (value: number) => Math.max(possibleLow, Math.min(possibleHigh, value));
  return path.map(({ value, sd }, day) => ({
    at: daysAfter(now, day),
    value: possible(value),
    low: possible(value - nineInTen * sd),
    high: possible(value + nineInTen * sd),
  }));
}

function trendPath(
  quantity: Quantity,
  readings: readonly ForecastReading[],
  today: number,
  days: number,
): Expected[] {
  const tests = readings
    .slice(-maxReadings)
    .map(({ day, value, u, below, above, confirmed }): SlopeReading => {
      const sd = Math.max(u, 1e-9);
      return {
        day,
        value,
        sd,
        confirmed,
        ...(below ? { bound: 'below' as const } : {}),
        ...(above ? { bound: 'above' as const } : {}),
      };
    });
  const tuned = tunedOptions(quantity, readings);
  const options = fittedOptions(tests, tuned);
  const { now, history, brokeAfter } = trackSlope(tests, today, options);
  if (now === null) return [];
  const run = steeperRun(tests.slice(sinceKit(readings.slice(-maxReadings))), now);
  if (run !== null) return runPath(run, today, days, tuned);
  const off = offLastTest(history.at(-1));
  // A line that broke tells of no more days ahead than it has been followed for since: a heater's morning says nothing of next week.
  const reach = brokeAfter === null ? days : Math.min(days, Math.floor(today - brokeAfter));
  return Array.from({ length: reach + 1 }, (_, day) => {
    const { value, sd } = forecastSlope(now, day, options);
    return { value: value - off, sd };
  });
}

/**
 * A run of tests goes on by its slope as it is, for no more than twice the days that it has gone on for; with the noise tuned for
 * alerts, since what began of late may end as soon.
 */
function runPath(run: Run, today: number, days: number, usual: SlopeOptions): Expected[] {
  const options = { ...usual, persistence: 1 };
  const reach = Math.min(days, Math.floor(2 * (run.day - run.fromDay)));
  return Array.from({ length: reach + 1 }, (_, day) => forecastSlope(run, today - run.day + day, options));
}

/** From which of the readings on all are by one kit. */
const sinceKit = (readings: readonly ForecastReading[]): number =>
  readings.findLastIndex(({ kitId }) => kitId !== readings.at(-1)?.kitId) + 1;

/** By how much more than the last test's own error the level followed lies off it: the line starts where the test stands. */
function offLastTest(last: SlopeStep | undefined): number {
  if (last === undefined || last.reading.bound) return 0;
  const { value, sd, confirmed = false } = last.reading;
  return beyondTest(last.level, { value, u: sd, confirmed });
}

/** The newest readings that a trend follows; older ones say nothing about the level of today. Own choice. */
const maxReadings = 150;
/** Readings that the noise of a system is fitted to: the fit needs thirty; sixty are as many as it gains from. */
const [minFitted, maxFitted] = [30, 60];
/** Until then its noise is taken as this part of the constants tuned for alerts, which are set high to notice changes soon: own choice. */
const calmShare = 0.35;

/** Fits by what they were made from: a page is looked at more often than a water is tested, and a fit tries 81 noises. */
const fitted = new Map<string, SlopeOptions>();
/** Fits kept at most; own choice. One takes some 5 kB. */
const mostFitted = 500;

function fitOf(tests: readonly SlopeReading[], usual: SlopeOptions): SlopeOptions {
  const key = JSON.stringify([tests, usual]);
  const options = fitted.get(key) ?? fitSlopeNoise(tests, usual).options;
  fitted.delete(key);
  fitted.set(key, options);
  if (fitted.size > mostFitted) fitted.delete(fitted.keys().next().value ?? '');
  return options;
}

/** The filter's constants fitted to this system's readings, or calmer ones than the tuned until there are enough. */
function fittedOptions(tests: readonly SlopeReading[], usual: SlopeOptions): SlopeOptions {
  if (tests.length >= minFitted) return fitOf(tests.slice(-maxFitted), usual);
  return { ...usual, levelNoise: usual.levelNoise * calmShare, slopeNoise: usual.slopeNoise * calmShare };
}

/** Alkalinity's constants are tuned. Those of another quantity come from how much its readings change beyond the test's error. */
function tunedOptions(quantity: Quantity, readings: readonly ForecastReading[]): SlopeOptions {
  if (quantity.code === 'alkalinity')
    return alkalinitySlopeOptions(convertDifference('alkalinity', 1, 'dKH', quantity.canonicalUnit));
  const pairs = readings.slice(1).map((one, i) => ({ one, before: readings[i] ?? one }));
  // 1.4826 times the median absolute deviation estimates the SD of normal values.
  const step = 1.4826 * upperMedian(pairs.map(({ one, before }) => Math.abs(one.value - before.value)));
  const u = upperMedian(readings.map((one) => one.u));
  const least = Math.max(u / 2, (quantity.plausibleHigh - quantity.plausibleLow) / 1000);
  return slopeOptions(Math.max(least, Math.sqrt(Math.max(0, step ** 2 / 2 - u ** 2))));
}

/** Why there is no forecast while something is off; '' where nothing is. */
export function standingWords(off: readonly StandingStill[], timeZone: string, now: Date): string {
  const [first] = off;
  if (first === undefined) return '';
  const names = andWords(off.map(({ what }) => what));
  const [is, since] = [off.length === 1 ? 'is' : 'are', whenWords(first.from, timeZone, now)];
  const missing = off.every(({ thing }) => thing === 'doser') ? ': what it usually adds is missing' : '';
  return `Not known: ${names} ${is} off since ${since}${missing}. Test more often until it runs.`;
}

/** The forecast in a sentence or two; '' without one. `kept`: what the system keeps of this quantity. */
export function forecastWords(
  quantity: Quantity,
  forecast: LevelForecast | null,
  kept: { bandLow: number | null; bandHigh: number | null; limitHigh: number | null } | undefined,
  timeZone: string,
): string {
  const last = forecast?.points.at(-1);
  if (forecast === null || last === undefined) return '';
  const assumption =
    forecast.by === 'habit'
      ? 'With what is made a day and the water changes as they are'
      : 'If it goes on like this';
  const interval = sayBand(quantity, last.low, last.high) ?? '';
  const level = `${assumption} it is at ${say(quantity, last.value)} on ${dateWords(last.at, timeZone)}; 90 % likely from ${interval}.`;
  const crossing = crossingWords(forecast, kept, timeZone);
  return crossing === null ? level : `${level} ${crossing}`;
}

function crossingWords(
  { points }: LevelForecast,
  kept: { bandLow: number | null; bandHigh: number | null; limitHigh: number | null } | undefined,
  timeZone: string,
): string | null {
  const [first] = points;
  if (kept === undefined || first === undefined) return null;
  const edges = [
    { name: 'the lower end of the band', at: kept.bandLow, below: true },
    { name: 'the limit', at: kept.limitHigh, below: false },
    { name: 'the upper end of the band', at: kept.bandHigh, below: false },
  ];
  for (const { name, at, below } of edges) {
    if (at === null) continue;
    const beyond = (value: number) => (below ? value < at : value > at);
    const passed = points.find(({ value }) => beyond(value));
    if (!beyond(first.value) && passed !== undefined)
      return `It would pass ${name} about ${dateWords(passed.at, timeZone)}.`;
  }
  return null;
}

import { dateWords } from '../../platform/words/times.ts';
import { trackNitrate } from '../../science/filter/nitrate.ts';
import { nitrateAhead } from '../../science/filter/nitrate-forecast.ts';
import type { Addition, NitrateReading, WaterChange } from '../../science/filter/nitrate-types.ts';
import {
  alkalinitySlopeOptions,
  forecastSlope,
  type SlopeOptions,
  type SlopeReading,
  slopeOptions,
  trackSlope,
} from '../../science/filter/slope.ts';
import { fitSlopeNoise } from '../../science/filter/slope-fit.ts';
import { convertDifference } from '../../science/units.ts';
import { type Quantity, say, sayBand } from '../quantities/quantities.ts';

/** A reading that a forecast rests on; canonical, its kit's bias taken out. `day`: days since 1970. */
export interface OutlookReading {
  day: number;
  value: number;
  u: number;
  below: boolean;
  confirmed: boolean;
  step: number | null;
  kitId: string | null;
}

/** What a forecast is made from; oldest first. */
export interface OutlookHistory {
  readings: readonly OutlookReading[];
  changes: readonly WaterChange[];
  additions: readonly Addition[];
}

/** What is expected from now on; canonical, with an interval that holds the level nine times in ten. */
export interface Outlook {
  /** By production and the habit of changes, or by level and slope. */
  by: 'habit' | 'trend';
  points: { at: Date; value: number; low: number; high: number }[];
}

const dayMs = 86_400_000;
const nineInTen = 1.645;
/** Fewest readings, and the days they must cover; own choice for the trend, the study's for nitrate. */
const enough = { habit: { readings: 8, days: 60 }, trend: { readings: 6, days: 5 } };
/** A forecast from older readings than this says nothing; own choice. */
const stale = { habit: 30, trend: 10 };
/** The farthest a forecast is drawn, days; own choice: a slope fades, a habit lasts. */
const farthest = { habit: 60, trend: 14 };

/** How many days ahead are drawn beside `days` of the past. */
export const daysAhead = (code: string, days: number): number =>
  Math.min(farthest[code === 'nitrate' ? 'habit' : 'trend'], Math.max(3, Math.round(days / 4)));

/** The forecast of a quantity, or null where there is too little to tell. */
export function outlookOf(
  quantity: Quantity,
  history: OutlookHistory,
  now: Date,
  days: number,
): Outlook | null {
  const { readings } = history;
  const today = now.getTime() / dayMs;
  const [first, last] = [readings[0], readings.at(-1)];
  if (first === undefined || last === undefined) return null;
  const span = last.day - first.day;
  const ready = (by: Outlook['by']) =>
    readings.length >= enough[by].readings && span >= enough[by].days && today - last.day <= stale[by];
  if (quantity.code === 'nitrate' && history.changes.length > 0 && ready('habit')) {
    return { by: 'habit', points: dated(nitratePath(history, today, days), now, quantity) };
  }
  if (!ready('trend') || last.below) return null;
  return {
    by: 'trend',
    points: dated(trendPath(quantity, readings, today, Math.min(days, farthest.trend)), now, quantity),
  };
}

interface Expected {
  value: number;
  sd: number;
}

function dated(
  path: readonly Expected[],
  now: Date,
  { possibleLow, possibleHigh }: Quantity,
): Outlook['points'] {
  const possible = (value: number) => Math.max(possibleLow, Math.min(possibleHigh, value));
  return path.map(({ value, sd }, day) => ({
    at: new Date(now.getTime() + day * dayMs),
    value: possible(value),
    low: possible(value - nineInTen * sd),
    high: possible(value + nineInTen * sd),
  }));
}

function nitratePath(
  { readings, changes, additions }: OutlookHistory,
  today: number,
  days: number,
): Expected[] {
  const kitOpenings = readings.flatMap(({ kitId, day }, i) =>
    i > 0 && kitId !== readings[i - 1]?.kitId && !readings.slice(0, i).some((one) => one.kitId === kitId)
      ? [day]
      : [],
  );
  const read = readings.map(({ day, value, u, below, confirmed, step }): NitrateReading => {
    const relativeSd = Math.min(1, Math.max(0.03, value > 0 ? u / value : 1));
    return {
      day,
      value,
      relativeSd,
      confirmed,
      ...(step === null ? {} : { step }),
      ...(below ? { bound: 'below' as const } : {}),
    };
  });
  const { now } = trackNitrate({ readings: read, changes, additions, kitOpenings }, today);
  return now === null ? [] : nitrateAhead(now, days);
}

function trendPath(
  quantity: Quantity,
  readings: readonly OutlookReading[],
  today: number,
  days: number,
): Expected[] {
  const tests = readings.slice(-mostFollowed).map(({ day, value, u, below, confirmed }): SlopeReading => {
    const sd = Math.max(u, 1e-9);
    return { day, value, sd, confirmed, ...(below ? { bound: 'below' as const } : {}) };
  });
  const options = ownOptions(tests, optionsFor(quantity, readings));
  const { now } = trackSlope(tests, today, options);
  if (now === null) return [];
  return Array.from({ length: days + 1 }, (_, day) => forecastSlope(now, day, options));
}

/** Older readings than these say nothing on the level of today. */
const mostFollowed = 150;
/** Readings from which a water's own noises are learnt; the filter needs thirty. */
const [fewestToLearn, mostToLearn] = [30, 60];
/** What the slope is taken to wander until then, as a part of the tuned constants, which were made to notice: own choice. */
const calm = 0.35;

/** The noises this water itself shows; calmer ones than those that alerts are tuned to until it has shown any. */
function ownOptions(tests: readonly SlopeReading[], usual: SlopeOptions): SlopeOptions {
  if (tests.length >= fewestToLearn) return fitSlopeNoise(tests.slice(-mostToLearn), usual).options;
  return { ...usual, levelNoise: usual.levelNoise * calm, slopeNoise: usual.slopeNoise * calm };
}

/** Alkalinity's constants are tuned; another quantity's short swing is what its own steps show beyond the test. */
function optionsFor(quantity: Quantity, readings: readonly OutlookReading[]): SlopeOptions {
  if (quantity.code === 'alkalinity')
    return alkalinitySlopeOptions(convertDifference('alkalinity', 1, 'dKH', quantity.canonicalUnit));
  const pairs = readings.slice(1).map((one, i) => ({ one, before: readings[i] ?? one }));
  const step = middle(pairs.map(({ one, before }) => Math.abs(one.value - before.value))) * 1.4826;
  const u = middle(readings.map((one) => one.u));
  const least = Math.max(u / 2, (quantity.plausibleHigh - quantity.plausibleLow) / 1000);
  return slopeOptions(Math.max(least, Math.sqrt(Math.max(0, step ** 2 / 2 - u ** 2))));
}

/** What the forecast says, in a sentence or two. */
export function outlookWords(
  quantity: Quantity,
  outlook: Outlook | null,
  kept: { bandLow: number | null; bandHigh: number | null; limitHigh: number | null } | undefined,
  timeZone: string,
): string {
  const last = outlook?.points.at(-1);
  if (outlook === null || last === undefined) return '';
  const given =
    outlook.by === 'habit' ? 'At the present production and habit of changes' : 'If it goes on as of late';
  const interval = sayBand(quantity, last.low, last.high) ?? '';
  const stands = `${given} it stands at ${say(quantity, last.value)} on ${dateWords(last.at, timeZone)}; nine times in ten from ${interval}.`;
  const crossing = crossingWords(outlook, kept, timeZone);
  return crossing === null ? stands : `${stands} ${crossing}`;
}

function crossingWords(
  { points }: Outlook,
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

function middle(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[sorted.length >> 1] ?? 0;
}

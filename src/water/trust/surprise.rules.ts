import { median } from 'd3-array';
import {
  type SlopeOptions,
  type SlopeReading,
  slopeOptions,
  trackSlope,
} from '../../science/filter/slope.ts';
import { dayOf, daysBetween } from '../../science/numeric/time.ts';
import {
  type ExpectedWindow,
  isSurprise,
  offWindow,
  type SurpriseLimits,
  sideOfBand,
  surpriseSds,
} from '../../science/statistics/surprise.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { safeRange } from '../acute/acute-states.rules.ts';
import {
  type Quantity,
  say,
  sayApart,
  sayBand,
  sayDifference,
  sayReading,
} from '../quantities/quantities.ts';
import { usualSwing } from '../quantities/usual-swing.ts';
import type { MeasuredReading, StoredReading, TrustContext } from './measured.ts';

/** The usual swing weighs as much as this many steps of the system's own; own choice. */
const usualWeight = 3;
/** Readings that cover fewer days do not show the swing of a day, so that the usual one is the least; own choice. */
const dailySwingDays = 3;
/** The system's own swing is never taken for less than this part of the usual one; own choice. */
const leastShare = 0.5;
/** A trusted reading outside the band counts as known for this many days; own choice. */
const recentDays = 14;

/** Where the readings before lead to at a time; canonical. */
export interface ExpectedLevel {
  value: number;
  /** Standard deviation of the water about it: of the level as far as it is known, and of its own swing. */
  sd: number;
}

/** Where the trusted readings before a time, oldest first, lead to; null without any. */
export function expectedLevel(
  past: readonly StoredReading[],
  quantity: Quantity,
  at: Date,
): ExpectedLevel | null {
  const before = past.filter((one) => one.at <= at);
  const last = before.at(-1);
  if (last === undefined) return null;
  const options = swingOptions(before, quantity);
  const { now } = trackSlope(before.map(slopeReading), dayOf(at), options);
  return now === null ? null : { value: now.level, sd: combine(now.levelSd, options.swing) };
}

function slopeReading({ at, value, uncertainty, below, above, confirmed }: StoredReading): SlopeReading {
  const sd = Math.max(1e-9, uncertainty);
  return {
    day: dayOf(at),
    value,
    sd,
    ...(confirmed === undefined ? {} : { confirmed }),
    ...(below ? { bound: 'below' as const } : {}),
    ...(above ? { bound: 'above' as const } : {}),
  };
}

const swingOptions = (past: readonly StoredReading[], quantity: Quantity): SlopeOptions =>
  slopeOptions(ownSwing(past, quantity));

/**
 * The water's own short swing (standard deviation, canonical): the robust spread of its steps from test to test about
 * their middle, less what the tests' errors add, blended with the usual swing of the quantity.
 */
export function ownSwing(past: readonly MeasuredReading[], quantity: Quantity): number {
  const usual = usualSwing(quantity.code, past.at(-1)?.value ?? 0, quantity);
  const steps = past.slice(1).flatMap((one, i) => {
    const before = past[i];
    return before === undefined || isBound(one) || isBound(before) ? [] : [{ before, one }];
  });
  const moves = steps.map(({ before, one }) => one.value - before.value);
  const middle = medianOrZero(moves);
  const spread = (1.4826 * medianOrZero(moves.map((move) => Math.abs(move - middle)))) ** 2;
  const tests = medianOrZero(steps.map(({ before, one }) => one.uncertainty ** 2 + before.uncertainty ** 2));
  const own = Math.max(0, spread - tests) / 2;
  const blended = Math.sqrt((usualWeight * usual ** 2 + steps.length * own) / (usualWeight + steps.length));
  const [first, last] = [past[0], past.at(-1)];
  const span = first === undefined || last === undefined ? 0 : daysBetween(first.at, last.at);
  return Math.max(blended, usual * (span < dailySwingDays ? 1 : leastShare));
}

const isBound = ({ below, above = false }: MeasuredReading) => below || above;

/** The middle of the gaps between tests; days, 0 below two. */
export const usualGapDays = (past: readonly MeasuredReading[]): number =>
  medianOrZero(past.slice(1).map((one, i) => daysBetween(past[i]?.at ?? one.at, one.at)));

const medianOrZero = (values: readonly number[]): number => median(values) ?? 0;

/** How far a reading lies off what was expected. */
export interface Deviation {
  /** Signed distance from what the readings before and the logged changes lead to; 0 within; canonical. */
  by: number;
  /** The same in standard deviations of water and test. */
  z: number;
  expected: ExpectedLevel;
}

type Before = Pick<TrustContext, 'past' | 'quantity' | 'expectedChange'>;
type Side = 'below' | 'above';
type Around = { window: ExpectedWindow; expected: ExpectedLevel };

/** Between what the readings before and the logged changes lead to at a time, and where to; null without readings. */
function expectedAround({ past, quantity, expectedChange }: Before, at: Date): Around | null {
  const expected = expectedLevel(past, quantity, at);
  if (expected === null) return null;
  const last = past.at(-1);
  const floor = last?.below === true ? Math.min(0, expected.value) : expected.value;
  const ceiling = last?.above === true ? quantity.possibleHigh : expected.value;
  const window = {
    low: floor + Math.min(0, expectedChange),
    high: ceiling + Math.max(0, expectedChange),
    sd: expected.sd,
  };
  return { window, expected };
}

/** How far a reading lies off what the trusted readings before it lead to; null without any. */
export function deviationOf(reading: MeasuredReading, context: Before): Deviation | null {
  const around = expectedAround(context, reading.at);
  return around === null ? null : { ...offWindow(reading, around.window), expected: around.expected };
}

/** What a reading at a time is judged by, for whoever asks before the service can; canonical. */
export function surpriseLimits(context: TrustContext, at: Date): SurpriseLimits {
  const { low, high } = limitsOf(context);
  const around = expectedAround(context, at);
  return {
    window: around?.window ?? null,
    bandLow: isKnown('below', context, at, around) ? null : low,
    bandHigh: isKnown('above', context, at, around) ? null : high,
  };
}

/** Why a reading surprises, in a sentence or two; null when band, history and what was logged explain it. */
export function surpriseOf(reading: MeasuredReading, context: TrustContext): string | null {
  const limits = surpriseLimits(context, reading.at);
  if (!isSurprise(reading, limits)) return null;
  const deviation = deviationOf(reading, context);
  const reasons = [outOfBand(reading, context, limits), jump(reading, context, deviation)];
  return reasons.filter((reason) => reason !== null).join(' ');
}

const isJump = (deviation: Deviation | null): boolean =>
  deviation !== null && Math.abs(deviation.z) > surpriseSds;

/** The band, and where it is open the edge of the safe range: a first reading beyond it asks for its repeat too. */
export function limitsOf({ quantity, band }: Pick<TrustContext, 'quantity' | 'band'>): {
  low: number | null;
  high: number | null;
} {
  const { low, high } = safeRange(quantity.code);
  return { low: band.low ?? finite(low), high: band.high ?? finite(high) };
}

const finite = (value: number): number | null => (Number.isFinite(value) ? value : null);

function outOfBand(
  reading: MeasuredReading,
  { quantity, band }: TrustContext,
  { bandLow, bandHigh }: SurpriseLimits,
): string | null {
  const side = sideOfBand(reading, bandLow, bandHigh);
  if (side === null) return null;
  if ((side === 'below' ? band.low : band.high) === null) {
    const { low, high } = safeRange(quantity.code);
    return `${sayReading(quantity, reading)} is ${side} the safe range, ${sayBand(quantity, finite(low), finite(high)) ?? ''}.`;
  }
  const keptBand = sayBand(quantity, band.low, band.high) ?? '';
  const kept = band.starting
    ? `the starting band of this system, ${keptBand}, which nobody has confirmed yet`
    : `what this system keeps, ${keptBand}`;
  return `${sayReading(quantity, reading)} is ${side} ${kept}.`;
}

/** Whether it is known that the water stands on that side of its band: it was read there lately, or what was logged leads there. */
function isKnown(side: Side, context: TrustContext, at: Date, around: Around | null): boolean {
  const { past } = context;
  const limits = limitsOf(context);
  const read = past.some(
    (one) => Math.abs(daysBetween(one.at, at)) <= recentDays && sideOf(one, limits) === side,
  );
  return read || isExpected(side, context, at, around);
}

/** Whether the trusted readings before, and what was logged since, lead out of the band by themselves. */
function isExpected(side: Side, context: TrustContext, at: Date, around: Around | null): boolean {
  const { low, high } = limitsOf(context);
  if (around === null) return false;
  const { expectedChange, past } = context;
  const isLogged = side === 'below' ? expectedChange < 0 : expectedChange > 0;
  const last = past.at(-1);
  // What was read long ago leads nowhere by itself.
  if (!isLogged && (last === undefined || daysBetween(last.at, at) > recentDays)) return false;
  const further = isMoving(side, context.past) ? around.expected.sd : 0;
  const led = around.expected.value + expectedChange + (side === 'below' ? -further : further);
  return side === 'below' ? low !== null && led < low : high !== null && led > high;
}

/** A test this much before another is no repeat of it; own choice. */
const notRepeatDays = 0.25;
/** Two tests of steady water lie no further apart than this many times the uncertainty of their difference, 19 times in 20. */
const apart = 2;

/** Whether the last trusted reading, which another confirmed, had moved to that side since the one before it. */
function isMoving(side: Side, past: readonly StoredReading[]): boolean {
  const last = past.at(-1);
  if (last?.confirmed !== true) return false;
  const before = past.findLast((one) => daysBetween(one.at, last.at) > notRepeatDays);
  if (before === undefined || isBound(before) || isBound(last)) return false;
  const moved = (last.value - before.value) * (side === 'below' ? -1 : 1);
  return moved > apart * combine(last.uncertainty, before.uncertainty);
}

/** On which side of a band a value lies; null inside it. */
export const sideOf = (reading: MeasuredReading, { low, high }: TrustContext['band']) =>
  sideOfBand(reading, low, high);

function jump(
  reading: MeasuredReading,
  { quantity, past }: TrustContext,
  deviation: Deviation | null,
): string | null {
  const last = past.at(-1);
  if (deviation === null || last === undefined || !isJump(deviation)) return null;
  const { by, z, expected } = deviation;
  const before = `${sayReading(quantity, last)}, ${recordPeriodWords(daysBetween(last.at, reading.at))} before`;
  const may = sayDifference(quantity, Math.abs((surpriseSds * by) / z), reading.value);
  // What was logged since may have moved it: it is told from the nearer end, so that the sum is right.
  const end = Math.max(quantity.possibleLow, reading.value - by);
  const words = sayApart(quantity, reading.value, end);
  const led = say(quantity, end);
  const logged =
    led === say(quantity, Math.max(quantity.possibleLow, expected.value)) ? '' : ' and what was logged since';
  return `It is ${words} ${by < 0 ? 'below' : 'above'} the ${led} that the readings before${logged} lead to (the last: ${before}); this water and this test explain ${may}.`;
}

/** "20 min", "23 h", "3 days". */
export function recordPeriodWords(days: number): string {
  const minutes = Math.round(Math.abs(days) * 1440);
  if (minutes < 90) return `${minutes} min`;
  return minutes < 48 * 60 ? `${Math.round(minutes / 60)} h` : `${Math.round(Math.abs(days))} days`;
}

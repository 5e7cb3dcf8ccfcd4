import { median } from 'd3-array';
import { daysBetween } from '../../science/numeric/time.ts';
import { agreement, combine } from '../../science/statistics/uncertainty.ts';
import { type Quantity, say, sayBand, sayDifference } from '../quantities/quantities.ts';

/** One reading as the rules of trust see it; canonical unit. */
export interface MeasuredReading {
  at: Date;
  value: number;
  below: boolean;
  uncertainty: number;
  kitId: string | null;
  methodId: string | null;
}

/** A reading that is in the database already. */
export interface StoredReading extends MeasuredReading {
  id: string;
}

/** What is known of one quantity in one system at the time of a reading. */
export interface TrustContext {
  quantity: Quantity;
  band: { low: number | null; high: number | null };
  /** Trusted readings before it, oldest first. */
  past: readonly StoredReading[];
  /** Unconfirmed readings before it, oldest first. */
  pending: readonly StoredReading[];
  /** Readings after it, where it was entered late; oldest first. */
  later: readonly StoredReading[];
  /** By how much the water changes and unusual doses logged since the last reading would move the level; canonical. */
  expectedChange: number;
}

/** How far a reading is trusted, and why. */
export interface Verdict {
  trust: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted';
  reason: string;
  /** The id of the reading that confirmed or refuted it. */
  settledBy: string | null;
  /** The unconfirmed readings that it confirms or refutes. */
  settles: { id: string; trust: 'confirmed' | 'refuted'; reason: string }[];
}

/** A change is a jump beyond this many standard deviations of water and test together: the usual limit of a control chart. */
export const jumpSds = 3;
/** Until a system has a history, its level is taken to move by this share of the plausible range between tests; own choice. */
export const initialMoveShare = 0.05;
/** That first guess weighs as much as this many steps of the system's own; own choice. */
const initialWeight = 3;
/** A second reading confirms a surprising one within this many days, and refutes it within this many; own choice. */
export const confirmDays = 7;
export const refuteDays = 2;
/** A trusted reading outside the band counts as known for this many days; own choice. */
const recentDays = 14;

const gapDays = (a: MeasuredReading, b: MeasuredReading) => Math.abs(daysBetween(a.at, b.at));

/** How far the reading is trusted. The reasons are written for the person who tested. */
export function judgeReading(reading: MeasuredReading, context: TrustContext): Verdict {
  const surprise = surpriseOf(reading, context);
  const waiting = context.pending.filter((one) => gapDays(one, reading) <= confirmDays);
  const settles = waiting.flatMap((one) => settleWaiting(one, reading, surprise === null, context.quantity));
  const plain = { trust: 'plain' as const, reason: '', settledBy: null, settles };
  if (surprise === null) return plain;
  const agreeing = settles.find((one) => one.trust === 'confirmed');
  if (agreeing !== undefined) {
    return {
      ...plain,
      trust: 'confirmed',
      reason: `${surprise} The reading before says the same.`,
      settledBy: agreeing.id,
    };
  }
  return settledByNext(reading, surprise, context) ?? { ...plain, trust: 'unconfirmed', reason: surprise };
}

/** A reading entered late may already be confirmed or refuted by the one after it; null where it is not. */
function settledByNext(reading: MeasuredReading, surprise: string, context: TrustContext): Verdict | null {
  const next = context.later[0];
  if (next === undefined || gapDays(reading, next) > confirmDays) return null;
  const usual = surpriseOf(next, { ...context, expectedChange: 0 }) === null;
  const [settled] = settleWaiting({ ...reading, id: '' }, next, usual, context.quantity);
  if (settled === undefined) return null;
  return { trust: settled.trust, reason: `${surprise} ${settled.reason}`, settledBy: next.id, settles: [] };
}

/** Why a reading surprises, in a sentence or two; null when band and history explain it. */
export function surpriseOf(reading: MeasuredReading, context: TrustContext): string | null {
  const reasons = [outOfBand(reading, context), jump(reading, context)].filter((reason) => reason !== null);
  return reasons.length === 0 ? null : reasons.join(' ');
}

function outOfBand(reading: MeasuredReading, { quantity, band, past }: TrustContext): string | null {
  const side = sideOf(reading, band);
  if (side === null) return null;
  const known = past.some(
    (one) => gapDays(one, reading) <= recentDays && sideOf(one, band) === side && agree(one, reading),
  );
  if (known) return null;
  const keptBand = sayBand(quantity, band.low, band.high) ?? '';
  return `${say(quantity, reading.value, reading.below)} is ${side} what this system keeps, ${keptBand}.`;
}

function sideOf({ value, below }: MeasuredReading, band: TrustContext['band']): 'below' | 'above' | null {
  if (band.low !== null && value < band.low) return 'below';
  return !below && band.high !== null && value > band.high ? 'above' : null;
}

function jump(reading: MeasuredReading, context: TrustContext): string | null {
  const { quantity, past, expectedChange } = context;
  const last = past.at(-1);
  if (last === undefined) return null;
  const [low, high] = possibleRange(last, expectedChange);
  const [least, most] = possibleRange(reading, 0);
  const distance = Math.max(0, least - high, low - most);
  const allowed =
    jumpSds * combine(reading.uncertainty, last.uncertainty, waterSd(past, quantity, gapDays(last, reading)));
  if (distance <= allowed) return null;
  const words = sayDifference(quantity, distance, reading.value);
  const before = `${say(quantity, last.value, last.below)}, ${ageWords(gapDays(last, reading))} before`;
  const may = sayDifference(quantity, allowed, reading.value);
  return `It is ${words} ${low > most ? 'below' : 'above'} the last reading (${before}); this water and this test explain ${may}.`;
}

/** Where the level may be by a reading and by what was logged since: lowest and highest; canonical. */
function possibleRange({ value, below }: MeasuredReading, expectedChange: number): [number, number] {
  const floor = below ? Math.min(0, value) : value;
  return [floor + Math.min(0, expectedChange), value + Math.max(0, expectedChange)];
}

/**
 * Standard deviation of the water's own change between two tests `gap` days apart; canonical. It is the robust spread of
 * the past steps less what the tests' errors add, blended with a first guess. It grows with the root of a longer gap.
 */
export function waterSd(past: readonly MeasuredReading[], quantity: Quantity, gap: number): number {
  const steps = past.slice(1).flatMap((one, i) => {
    const before = past[i];
    return before === undefined || one.below || before.below ? [] : [{ before, one }];
  });
  const guess = (initialMoveShare * (quantity.plausibleHigh - quantity.plausibleLow)) ** 2;
  const spread =
    (1.4826 * medianOrZero(steps.map(({ before, one }) => Math.abs(one.value - before.value)))) ** 2;
  const tests = medianOrZero(steps.map(({ before, one }) => one.uncertainty ** 2 + before.uncertainty ** 2));
  const own = Math.max(0, spread - tests);
  const variance = (initialWeight * guess + steps.length * own) / (initialWeight + steps.length);
  const usualGap = medianOrZero(steps.map(({ before, one }) => gapDays(before, one)));
  return Math.sqrt(variance * (usualGap > 0 ? Math.max(1, gap / usualGap) : 1));
}

/** What a second reading says of an unconfirmed one: confirmed where they agree, refuted where it fits the history instead. */
function settleWaiting(
  waiting: StoredReading,
  second: MeasuredReading,
  usual: boolean,
  quantity: Quantity,
): Verdict['settles'] {
  const secondWords = say(quantity, second.value, second.below);
  const when = `${ageWords(gapDays(waiting, second))} later`;
  if (agree(waiting, second)) {
    return [
      {
        id: waiting.id,
        trust: 'confirmed',
        reason: `Confirmed by ${secondWords} ${when}: ${confirmationWords(waiting, second)}`,
      },
    ];
  }
  if (!usual || gapDays(waiting, second) > refuteDays) return [];
  return [
    {
      id: waiting.id,
      trust: 'refuted',
      reason: `Refuted by ${secondWords} ${when}, which fits the readings before.`,
    },
  ];
}

function confirmationWords(a: MeasuredReading, b: MeasuredReading): string {
  if (a.methodId !== b.methodId) return 'by another method, so the kit reads right too.';
  if (a.kitId !== null && b.kitId !== null && a.kitId !== b.kitId)
    return 'by another kit, so the kit reads right too.';
  return 'the work is right; another kit or method would show whether the kit is.';
}

/** Two readings agree when their normalised error is at most 1 (ISO 13528). Two below detection always agree. */
export function agree(a: MeasuredReading, b: MeasuredReading): boolean {
  if (a.below && b.below) return true;
  if (a.below !== b.below) {
    const [limit, value] = a.below ? [a, b] : [b, a];
    return value.value <= limit.value + 2 * combine(a.uncertainty, b.uncertainty);
  }
  if (a.uncertainty === 0 && b.uncertainty === 0) return a.value === b.value;
  return agreement({ value: a.value, u: a.uncertainty }, { value: b.value, u: b.uncertainty }).agree;
}

/** What to do about an unconfirmed reading, and which result would confirm it. */
export function repeatAdvice(
  quantity: Quantity,
  { value, below, uncertainty }: Pick<MeasuredReading, 'value' | 'below' | 'uncertainty'>,
): string {
  if (below)
    return `Test again: a second reading of ${say(quantity, value, true)} confirms it. Another kit or method shows whether the kit is right.`;
  const reachOfTwo = 2 * Math.SQRT2 * uncertainty;
  const low = Math.max(quantity.possibleLow, value - reachOfTwo);
  const range = sayBand(quantity, low, value + reachOfTwo);
  return `Test again: ${range} with the same kit confirms the work, with another kit or method the kit too. Until then no correction rests on it.`;
}

function ageWords(days: number): string {
  const minutes = Math.round(days * 1440);
  if (minutes < 90) return `${minutes} min`;
  return minutes < 48 * 60 ? `${Math.round(minutes / 60)} h` : `${Math.round(days)} days`;
}

const medianOrZero = (values: readonly number[]): number => median(values) ?? 0;

interface UncertainValue {
  value: number;
  below: boolean;
  uncertainty: number;
}

/** Two standard uncertainties either way hold the true value about 19 times in 20 (coverage factor of the GUM). */
const coverageFactor = 2;

/** The interval that holds the true value 19 times in 20, within what is possible; canonical. */
export function coverageInterval(
  quantity: Quantity,
  { value, below, uncertainty }: UncertainValue,
): { low: number; high: number } {
  const half = coverageFactor * uncertainty;
  const low = below ? quantity.possibleLow : Math.max(quantity.possibleLow, value - half);
  return { low, high: Math.min(quantity.possibleHigh, value + (below ? 0 : half)) };
}

/**
 * A caution where a test is too coarse for the band: the true value may be below it as well as above it. Null where the
 * test can tell, or no band is set.
 */
export function resolutionCaution(
  quantity: Quantity,
  reading: UncertainValue,
  band: { low: number | null; high: number | null },
): string | null {
  const { low, high } = coverageInterval(quantity, reading);
  if (band.low === null || band.high === null || low >= band.low || high <= band.high) return null;
  const keptBand = sayBand(quantity, band.low, band.high) ?? '';
  return `This test cannot tell low from high here: ${say(quantity, reading.value, reading.below)} may be anything from ${sayBand(quantity, low, high) ?? ''}, and ${keptBand} is kept. Take the mean of three tests, or wait for the trend; neither add nor remove anything on it.`;
}

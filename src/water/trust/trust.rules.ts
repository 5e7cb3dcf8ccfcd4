import { daysBetween } from '../../science/numeric/time.ts';
import { type Quantity, say, sayBand } from '../quantities/quantities.ts';
import { confirmationOf, confirmDays, mayBeTheBottle } from './confirmation.rules.ts';
import type { MeasuredReading, StoredReading, TrustContext } from './measured.ts';
import { recordPeriodWords, surpriseOf } from './surprise.rules.ts';

/** How far a reading is trusted, and why. */
export interface Verdict {
  trust: 'plain' | 'unconfirmed' | 'confirmed' | 'refuted';
  reason: string;
  /** The id of the reading that confirmed or refuted it. */
  settledBy: string | null;
  /** The unconfirmed readings that it confirms or refutes. */
  settles: { id: string; trust: 'confirmed' | 'refuted'; reason: string }[];
}

/** A second reading refutes a surprising one that it does not agree with within this many days; own choice. */
export const refuteDays = 2;

const gapDays = (a: MeasuredReading, b: MeasuredReading) => Math.abs(daysBetween(a.at, b.at));

/** How far the reading is trusted. The reasons are written for the person who tested. */
export function judgeReading(reading: MeasuredReading, context: TrustContext): Verdict {
  const surprise = surpriseOf(reading, context);
  const within = confirmDays(context.past);
  const waiting = context.pending.filter((one) => gapDays(one, reading) <= within);
  const settles = waiting.flatMap((one) => settleWaiting(one, reading, surprise === null, context));
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
  const late = settledByNext(reading, surprise, context);
  if (late !== null) return late;
  const bottle = waiting.some(
    (one) => confirmationOf(one, reading, context) !== null && mayBeTheBottle(one, reading, context),
  );
  return { ...plain, trust: 'unconfirmed', reason: bottle ? `${surprise} ${kitOrWater}` : surprise };
}

const kitOrWater =
  'The reading before says the same, but both are by a bottle just opened: kit or water? Test with another kit, or this kit on a standard, today.';

/** A reading entered late may already be confirmed or refuted by the one after it; null where it is not. */
function settledByNext(reading: MeasuredReading, surprise: string, context: TrustContext): Verdict | null {
  const next = context.later[0];
  if (next === undefined || gapDays(reading, next) > confirmDays(context.past)) return null;
  const usual = surpriseOf(next, { ...context, expectedChange: 0 }) === null;
  const [settled] = settleWaiting({ ...reading, id: '' }, next, usual, context);
  if (settled === undefined) return null;
  return { trust: settled.trust, reason: `${surprise} ${settled.reason}`, settledBy: next.id, settles: [] };
}

/**
 * What a second reading says of an unconfirmed one: confirmed where they agree or both surprise on one side, refuted
 * where it fits the history instead.
 */
function settleWaiting(
  waiting: StoredReading,
  second: MeasuredReading,
  usual: boolean,
  context: TrustContext,
): Verdict['settles'] {
  const { quantity } = context;
  const secondWords = say(quantity, second.value, second.below);
  const when = `${recordPeriodWords(gapDays(waiting, second))} later`;
  const confirmed = confirmationOf(waiting, second, context);
  if (confirmed !== null && mayBeTheBottle(waiting, second, context)) return [];
  if (confirmed !== null) {
    const how = confirmed === 'agrees' ? confirmationWords(waiting, second) : sameSideWords;
    return [{ id: waiting.id, trust: 'confirmed', reason: `Confirmed by ${secondWords} ${when}: ${how}` }];
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

const sameSideWords =
  'on the same side and no nearer to the readings before. Two slips on one side are rarer than one change of the water.';

function confirmationWords(a: MeasuredReading, b: MeasuredReading): string {
  if (a.methodId !== b.methodId) return 'by another method, so the kit reads right too.';
  if (a.kitId !== null && b.kitId !== null && a.kitId !== b.kitId)
    return 'by another kit, so the kit reads right too.';
  return 'the work is right; another kit or method would show whether the kit is.';
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
  if (reading.below && band.low !== null && reading.value >= band.low && band.low > quantity.possibleLow)
    return `Cannot be known with this test: it sees nothing under ${say(quantity, reading.value)}, and ${sayBand(quantity, band.low, band.high) ?? ''} is kept. A finer test would tell.`;
  const { low, high } = coverageInterval(quantity, reading);
  if (band.low === null || band.high === null || low >= band.low || high <= band.high) return null;
  const keptBand = sayBand(quantity, band.low, band.high) ?? '';
  return `This test cannot tell low from high here: ${say(quantity, reading.value, reading.below)} may be anything from ${sayBand(quantity, low, high) ?? ''}, and ${keptBand} is kept. Take the mean of three tests, or wait for the trend; neither add nor remove anything on it.`;
}

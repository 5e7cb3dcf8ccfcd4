import { daysBetween } from '../../science/numeric/time.ts';
import { surpriseSds } from '../../science/statistics/surprise.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { agree, followsFrom } from './agreement.rules.ts';
import type { MeasuredReading, StoredReading, TrustContext } from './measured.ts';
import { deviationOf, limitsOf, sideOf, usualGapDays } from './surprise.rules.ts';

/** A second reading confirms a surprising one within three usual gaps between tests, but within these days; own choice. */
export const [leastConfirmDays, mostConfirmDays] = [7, 21];
/** A bottle counts as new for so many days after it was opened, until a reading with it fits what other kits read; own choice. */
const newBottleDays = 7;
/** So many readings of a new bottle that go on in one direction are the water's: a kit that reads wrong makes one step. */
const rowOfNewBottle = 3;

/** The second may lie nearer by this share of the first's distance: tests differ that much by themselves; own choice. */
const notNearer = 0.75;

/**
 * The second may lie further off by at most this many times the first's distance: what moves at one speed since the test
 * before lies twice as far by the second; a slip after a slightly odd test lies six times as far. Own choice.
 */
const mostTimesFurther = 3;

/** How long a surprising reading may wait for the one that confirms it; days. */
export const confirmDays = (past: readonly MeasuredReading[]): number =>
  Math.min(mostConfirmDays, Math.max(leastConfirmDays, 3 * usualGapDays(past)));

/**
 * Why the second of two surprising readings confirms the first; null where it does not. Where the first, a bound, only
 * follows from what the second says, the second is not confirmed by it.
 */
type Confirmation = 'agrees' | 'same side' | 'follows' | null;

/**
 * Whether a second surprising reading confirms one that waits: it agrees, or lies on the same side, both beyond three
 * standard deviations off what the readings before lead to, and the second not clearly nearer.
 */
export function confirmationOf(
  waiting: MeasuredReading,
  second: MeasuredReading,
  context: TrustContext,
): Confirmation {
  if (followsFrom(waiting, second)) return 'follows';
  if (followsFrom(second, waiting)) return null;
  if (agree(waiting, second)) return 'agrees';
  const [first, then] = [offsetOf(waiting, context), offsetOf(second, context)];
  if (first === null || then === null || Math.sign(first.by) !== Math.sign(then.by)) return null;
  if (Math.abs(then.z) <= surpriseSds || !isOneMove(first.by, then.by)) return null;
  return first.surprises ? 'same side' : null;
}

/** Whether two distances on one side may be of one change of the water: the second not nearer, and not out of all proportion. */
function isOneMove(first: number, then: number): boolean {
  const times = Math.abs(then) / Math.abs(first);
  return times >= notNearer && times <= mostTimesFurther;
}

/** A reading that passed may be the first of two on one side where it lay this many standard deviations off; own choice. */
const passedSds = 2;

/**
 * The id of the last trusted reading, where it lay off on the side of a surprising one and that lies no nearer: it passed
 * as near enough, or a dose explained it. Null where it did not, or both may be the doing of one new bottle.
 */
export function borneOutBefore(reading: MeasuredReading, context: TrustContext): string | null {
  const last = context.past.at(-1);
  if (last === undefined || last.below || last.above || reading.below || reading.above) return null;
  if (daysBetween(last.at, reading.at) > confirmDays(context.past)) return null;
  const before = { ...context, past: context.past.slice(0, -1), expectedChange: 0 };
  const [first, then] = [deviationOf(last, before), deviationOf(reading, context)];
  if (first === null || then === null || first.by * then.by <= 0) return null;
  if (Math.abs(first.z) < passedSds || Math.abs(then.z) <= surpriseSds) return null;
  const nearer = Math.abs(then.by) < Math.abs(first.by);
  if (!agree(last, reading) && (nearer || !isOneMove(first.by, then.by))) return null;
  return mayBeTheKit(last, reading, before) ? null : last.id;
}

/** How far off a reading lies; without readings before it, how far outside the band. */
function offsetOf(reading: MeasuredReading, context: TrustContext) {
  const deviation = deviationOf(reading, context);
  const limits = limitsOf(context);
  const side = sideOf(reading, limits);
  if (deviation !== null) {
    const { by, z } = deviation;
    const outside = side !== null && (side === 'below') === by < 0;
    return { by, z, surprises: Math.abs(z) > surpriseSds || outside };
  }
  const edge = side === 'below' ? limits.low : side === 'above' ? limits.high : null;
  if (edge === null) return null;
  const by = reading.value - edge;
  return { by, z: by / Math.max(1e-9, reading.uncertainty), surprises: true };
}

/**
 * Whether two surprising readings may both be the doing of one kit with which nothing was read yet that fitted: it was
 * newly opened, or another kit has said otherwise since the first of them. A row that goes on beyond the tests' error is
 * the water's, since a kit makes a step.
 */
export function mayBeTheKit(
  waiting: MeasuredReading,
  second: MeasuredReading,
  { past, pending }: Pick<TrustContext, 'past' | 'pending'>,
): boolean {
  const { kitId } = second;
  if (kitId === null || kitId !== waiting.kitId || past.length === 0) return false;
  if (past.some((one) => one.kitId === kitId)) return false;
  if (!newlyOpened(second) && !past.some((one) => saysOtherwise(one, waiting, second))) return false;
  return !goesOn([...pending.filter((one) => one.kitId === kitId && one.at < second.at), second]);
}

const newlyOpened = ({ kitOpenedAt = null, at }: MeasuredReading): boolean =>
  kitOpenedAt !== null && daysBetween(kitOpenedAt, at) <= newBottleDays;

const saysOtherwise = (one: MeasuredReading, waiting: MeasuredReading, second: MeasuredReading): boolean =>
  one.at >= waiting.at && isByOtherKit(one, waiting) && !agree(one, second);

/** Whether two tests by hand are by two kits that both have a name. */
export const isByOtherKit = (one: MeasuredReading, other: MeasuredReading): boolean =>
  one.kitId !== null && other.kitId !== null && one.kitId !== other.kitId && !one.probe && !other.probe;

/** Whether the readings go on in one direction, each beyond the one before and the last beyond the first by more than the tests' error. */
function goesOn(row: readonly (StoredReading | MeasuredReading)[]): boolean {
  const [first, last] = [row[0], row.at(-1)];
  if (first === undefined || last === undefined || row.length < rowOfNewBottle) return false;
  const direction = Math.sign(last.value - first.value);
  const steady = row.slice(1).every((one, i) => (one.value - (row[i]?.value ?? 0)) * direction > 0);
  return (
    steady && Math.abs(last.value - first.value) > surpriseSds * combine(first.uncertainty, last.uncertainty)
  );
}

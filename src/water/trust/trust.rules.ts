import { daysBetween } from '../../science/numeric/time.ts';
import { type Bounded, type Quantity, say, sayBand, sayReading } from '../quantities/quantities.ts';
import { agree, followsFrom } from './agreement.rules.ts';
import {
  borneOutBefore,
  confirmationOf,
  confirmDays,
  isByOtherKit,
  mayBeTheKit,
} from './confirmation.rules.ts';
import type { MeasuredReading, StoredReading, TrustContext } from './measured.ts';
import { explainedByStop, type StoppedThing } from './stopped.rules.ts';
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
  const doubted = doubtedProbe(reading, context);
  const verdict =
    doubted === undefined ? judgeWithVote(reading, context) : judgeWithoutVote(reading, context);
  if (doubted === undefined) return verdict;
  const noVote = `${doubted.label} ${doubted.words}: it counts for nothing until it is checked.`;
  return { ...verdict, reason: `${verdict.reason} ${noVote}`.trim() };
}

/** The probe that a reading is of, where it has no vote. */
export const doubtedProbe = (reading: MeasuredReading, { doubted = [] }: Pick<TrustContext, 'doubted'>) =>
  reading.probe
    ? doubted.find(({ methodId, kitId }) => methodId === reading.methodId && kitId === reading.kitId)
    : undefined;

/** A probe without a vote settles nothing. */
function judgeWithoutVote(reading: MeasuredReading, context: TrustContext): Verdict {
  const surprise = surpriseOf(reading, context);
  const trust = surprise === null ? 'plain' : 'unconfirmed';
  return { trust, reason: surprise ?? '', settledBy: null, settles: [] };
}

function judgeWithVote(reading: MeasuredReading, context: TrustContext): Verdict {
  const surprise = surpriseOf(reading, context);
  const within = confirmDays(context.past);
  const waiting = context.pending.filter((one) => gapDays(one, reading) <= within);
  const settles = waiting.flatMap((one) => settleWaiting(one, reading, surprise === null, context));
  const reason = surprise ?? differingWords(waiting, settles, reading, context);
  const plain = { trust: 'plain' as const, reason, settledBy: null, settles };
  if (surprise === null) return plain;
  const weaker = waiting.filter((one) => followsFrom(one, reading)).map(({ id }) => id);
  const agreeing = settles.find((one) => one.trust === 'confirmed' && !weaker.includes(one.id));
  if (agreeing !== undefined) {
    return {
      ...plain,
      trust: 'confirmed',
      reason: `${surprise} The reading before says the same.`,
      settledBy: agreeing.id,
    };
  }
  const borne = borneOutBefore(reading, context);
  if (borne !== null) {
    const words =
      'The reading before lies on the same side: two mistakes the same way are rarer than one change of the water.';
    return { ...plain, trust: 'confirmed', reason: `${surprise} ${words}`, settledBy: borne };
  }
  const stopped = explainedByStop(reading, context);
  if (stopped !== null)
    return { ...plain, trust: 'confirmed', reason: `${surprise} ${stoppedWords(stopped)}` };
  const late = settledByNext(reading, surprise, context);
  if (late !== null) return late;
  const kit = waiting.some(
    (one) => confirmationOf(one, reading, context) !== null && mayBeTheKit(one, reading, context),
  );
  return { ...plain, trust: 'unconfirmed', reason: kit ? `${surprise} ${kitOrWater}` : surprise };
}

const stoppedWords = ({ what, until }: StoppedThing): string =>
  `${what} ${until === null ? 'is noted as switched off' : 'was off until lately'}, which explains it: taken as a real change of the water.`;

/** Said of a reading that fits the readings before, where one by another kit or method waits that it does not agree with. */
function differingWords(
  waiting: readonly StoredReading[],
  settles: Verdict['settles'],
  reading: MeasuredReading,
  { quantity }: TrustContext,
): string {
  const other = waiting.findLast(
    (one) => gapDays(one, reading) <= refuteDays && !settles.some(({ id }) => id === one.id),
  );
  if (other === undefined) return '';
  const byKits = other.methodId === reading.methodId && isByOtherKit(other, reading);
  const [sources, by] = byKits
    ? ['The kits differ', 'kit']
    : [other.probe === reading.probe ? 'The methods differ' : 'Probe or hand?', 'method'];
  const when = recordPeriodWords(gapDays(other, reading));
  return `${sources}: ${sayReading(quantity, other)} was read ${when} before by another ${by}. A third test decides; until then take care for the more dangerous of the two.`;
}

const kitOrWater =
  'The reading before says the same, but both are by one kit with which nothing was read that fitted: kit or water? Test with another kit, or this kit on a standard, today.';

/** A reading entered late may already be confirmed or refuted by the one after it; null where it is not. */
function settledByNext(reading: MeasuredReading, surprise: string, context: TrustContext): Verdict | null {
  const next = context.later.find((one) => reading.probe || !one.probe);
  if (next === undefined || gapDays(reading, next) > confirmDays(context.past)) return null;
  const usual = surpriseOf(next, { ...context, expectedChange: 0 }) === null;
  const [settled] = settleWaiting({ ...reading, id: '' }, next, usual, context);
  if (settled === undefined) return null;
  return { trust: settled.trust, reason: `${surprise} ${settled.reason}`, settledBy: next.id, settles: [] };
}

/**
 * What a second reading says of an unconfirmed one: confirmed where they agree or both surprise on one side. Refuted
 * where it fits the history instead and is by the same method, or where a second reading by hand says the same: kits and
 * methods that differ are no slip, and a probe never refutes a test by hand.
 */
function settleWaiting(
  waiting: StoredReading,
  second: MeasuredReading,
  usual: boolean,
  context: TrustContext,
): Verdict['settles'] {
  const { quantity } = context;
  const secondWords = sayReading(quantity, second);
  const when = `${recordPeriodWords(gapDays(waiting, second))} later`;
  const confirmed = confirmationOf(waiting, second, context);
  if (confirmed !== null && mayBeTheKit(waiting, second, context)) return [];
  if (confirmed !== null) {
    const how = confirmed === 'same side' ? sameSideWords : confirmationWords(waiting, second);
    return [{ id: waiting.id, trust: 'confirmed', reason: `Confirmed by ${secondWords} ${when}: ${how}` }];
  }
  if (!usual || gapDays(waiting, second) > refuteDays) return [];
  if (waiting.methodId !== second.methodId && !seconded(waiting, second, context)) return [];
  if (isKitAgainstKit(waiting, second, context)) return [];
  return [
    {
      id: waiting.id,
      trust: 'refuted',
      reason: `Refuted by ${secondWords} ${when}, which fits the readings before.`,
    },
  ];
}

/**
 * Whether one kit stands against one: the reading that waits is by a kit with which nothing fitted yet, the second by the
 * kit that the readings before are by. Kits that differ are no slip; a third kit that says as the second does decides.
 */
function isKitAgainstKit(waiting: StoredReading, second: MeasuredReading, { past }: TrustContext): boolean {
  if (!isByOtherKit(waiting, second) || past.some(({ kitId }) => kitId === waiting.kitId)) return false;
  return !past.some((one) => isByOtherKit(one, second) && agree(one, second));
}

/** Whether another reading by hand since the one that waits agrees with the second, itself by hand. */
const seconded = (waiting: StoredReading, second: MeasuredReading, { past }: TrustContext): boolean =>
  !second.probe && past.some((one) => one.at >= waiting.at && !one.probe && agree(one, second));

const sameSideWords =
  'on the same side and no nearer to the readings before. Two mistakes the same way are rarer than one change of the water.';

function confirmationWords(a: MeasuredReading, b: MeasuredReading): string {
  if (a.methodId !== b.methodId) return 'by another method, so the kit reads right too.';
  if (a.kitId !== null && b.kitId !== null && a.kitId !== b.kitId)
    return 'by another kit, so the kit reads right too.';
  return 'the test was done right; another kit or method would show whether the kit is.';
}

/** What to do about an unconfirmed reading, and which result would confirm it. */
export function repeatAdvice(
  quantity: Quantity,
  reading: Pick<MeasuredReading, 'value' | 'below' | 'above' | 'uncertainty'>,
): string {
  const { value, below, above = false, uncertainty } = reading;
  const again = `a second reading of ${sayReading(quantity, reading)} confirms it`;
  if (above) return `Dilute the sample and test again, with the dilution entered beside it; or ${again}.`;
  if (below) return `Test again: ${again}. Another kit or method shows whether the kit is right.`;
  const reachOfTwo = 2 * Math.SQRT2 * uncertainty;
  const low = Math.max(quantity.possibleLow, value - reachOfTwo);
  const range = sayBand(quantity, low, value + reachOfTwo);
  return `Test again: ${range} confirms it. Another kit or method would also show whether the kit is right. Until then no correction starts from it.`;
}

interface UncertainValue extends Bounded {
  uncertainty: number;
}

/** Two standard uncertainties either way hold the true value about 19 times in 20 (coverage factor of the GUM). */
const coverageFactor = 2;

/** The interval that holds the true value 19 times in 20, within what is possible; canonical. */
export function coverageInterval(
  quantity: Quantity,
  { value, below, above = false, uncertainty }: UncertainValue,
): { low: number; high: number } {
  const half = coverageFactor * uncertainty;
  const low = below ? quantity.possibleLow : Math.max(quantity.possibleLow, value - (above ? 0 : half));
  const high = above ? quantity.possibleHigh : Math.min(quantity.possibleHigh, value + (below ? 0 : half));
  return { low, high };
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
  if (reading.above && band.high !== null && reading.value < band.high)
    return `Cannot be known with this test: its scale ends at ${say(quantity, reading.value)}, and ${sayBand(quantity, band.low, band.high) ?? ''} is kept. Dilute the sample and test again.`;
  if (reading.above) return null;
  const { low, high } = coverageInterval(quantity, reading);
  if (band.low === null || band.high === null || low >= band.low || high <= band.high) return null;
  const keptBand = sayBand(quantity, band.low, band.high) ?? '';
  return `This test cannot tell low from high here: ${sayReading(quantity, reading)} may be anything from ${sayBand(quantity, low, high) ?? ''}, and ${keptBand} is kept. Take the mean of three tests, or wait for the trend; neither add nor remove anything on it.`;
}

import { numberWords, plural } from '../../platform/words/numbers.ts';
import { dayMs, dayOf, hourMs, minuteMs } from '../../science/numeric/time.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { nameInSentence } from '../quantities/name.rules.ts';
import { type Quantity, say, sayDifference } from '../quantities/quantities.ts';
import { disagreementWords } from '../trust/disagreements.ts';
import { type ExpectedCourse, levelAt } from './expected-level.rules.ts';
import { saturationOf, type WaterChemistry } from './saturation.rules.ts';
import { type Candidate, freshDays, startingReading } from './starting-reading.rules.ts';

/** Everything that decides whether the next step may be done; canonical units. */
export interface NextStep {
  quantity: Quantity;
  now: Date;
  /** The step that would be done: what it changes, and whether a test was asked for before it. */
  step: { change: number; retest: boolean; afterHours: number | null };
  course: ExpectedCourse;
  target: number;
  margin: number;
  /** When the last step was done. */
  lastDoneAt: Date | null;
  /** Standing readings of the quantity, the first of the correction's included. */
  readings: readonly Candidate[];
  suspectKits: ReadonlySet<string>;
  /** What two sources that disagree about the level say; null where none do. */
  disagreement: string | null;
  /** Names of other running corrections that move the same quantity. */
  others: readonly string[];
  /** What was logged besides the correction: by how much it moved the level, and in words. */
  outside: readonly { at: Date; moves: number; words: string }[];
  /** What is usually dosed in a day, by the log when the correction was planned. */
  usualPerDay: number;
  /** A step that was recorded and afterwards voided. */
  voidedStep: boolean;
  water: WaterChemistry;
}

/** Why a step is held back, and what to do about it. */
export interface CorrectionHold {
  todo: 'test' | 'revise' | 'wait';
  words: string;
}

/** Between two steps at least so many hours: the cap is one of a day; own choice (so that the hourMs may slip a little). */
const betweenHours = 20;
/** A test within this time of a step sees water that has not mixed; own choice. */
export const mixingMinutes = 60;

/**
 * Why the next step is held back, or null when it may be done. The first reason counts, the one a person can mend
 * first. A test that nobody confirmed is never a reason to revise: it asks for a second one and for nothing else.
 */
export function correctionHold(next: NextStep): CorrectionHold | null {
  return (
    tooSoon(next) ??
    byOthers(next) ??
    byVoided(next) ??
    byDisagreement(next) ??
    byRetest(next) ??
    byOutside(next) ??
    byDeparture(next) ??
    byTarget(next) ??
    bySaturation(next)
  );
}

/** The readings that say how the last step went: those made once the water had mixed. */
export function retestsOf({ readings, lastDoneAt }: Pick<NextStep, 'readings' | 'lastDoneAt'>): Candidate[] {
  if (lastDoneAt === null) return [...readings];
  const mixed = lastDoneAt.getTime() + mixingMinutes * minuteMs;
  return readings.filter((one) => one.at.getTime() >= mixed);
}

function tooSoon({ lastDoneAt, now, step: { afterHours } }: NextStep): CorrectionHold | null {
  if (lastDoneAt !== null && afterHours !== null) {
    const left = Math.ceil(lastDoneAt.getTime() / minuteMs + afterHours * 60 - now.getTime() / minuteMs);
    const words = `Between these two steps lie ${plural(afterHours, 'hour', 'hours')} or more. Wait ${plural(left, 'minute', 'minutes')} more, and test before it.`;
    return left > 0 ? { todo: 'wait', words } : null;
  }
  if (lastDoneAt === null || now.getTime() - lastDoneAt.getTime() >= betweenHours * hourMs) return null;
  const hours = Math.ceil(betweenHours - (now.getTime() - lastDoneAt.getTime()) / hourMs);
  return {
    todo: 'wait',
    words: `The step before was done less than a day ago. Wait ${hours} h more: the most a day holds for both together.`,
  };
}

function byOthers({ others, quantity }: NextStep): CorrectionHold | null {
  const [other] = others;
  if (other === undefined) return null;
  return {
    todo: 'revise',
    words: `Another correction that moves ${nameInSentence(quantity.name)} runs in this system: ${other}. Stop one of the two.`,
  };
}

function byVoided({ voidedStep }: NextStep): CorrectionHold | null {
  if (!voidedStep) return null;
  return {
    todo: 'revise',
    words:
      'A step that was recorded has been voided since, so the plan no longer says what is in the water. Test, then revise from that reading.',
  };
}

/** Nobody knows where the level is while two sources disagree about it. */
function byDisagreement({ disagreement, quantity }: NextStep): CorrectionHold | null {
  return disagreement === null
    ? null
    : { todo: 'test', words: disagreementWords(quantity.name, disagreement) };
}

/** Asks for a test where one is missing, waits for a second, or was made with a kit nobody trusts. */
function byRetest(next: NextStep): CorrectionHold | null {
  const { quantity, step, now, suspectKits, readings } = next;
  const name = nameInSentence(quantity.name);
  const newest = startingReading(readings, suspectKits, now);
  if (newest.kind === 'unconfirmed') return again(next, newest.reading);
  if (newest.kind === 'suspect')
    return {
      todo: 'test',
      words: `${say(quantity, newest.reading.value)} was read with a kit that is said to read wrong. Test ${name} with another kit or method.`,
    };
  if (step.retest && startingReading(retestsOf(next), suspectKits, now).kind === 'none')
    return {
      todo: 'test',
      words: `Test ${name} first, an hour or more after the last step: this step waits for that reading.`,
    };
  if (newest.kind === 'old' || newest.kind === 'none')
    return {
      todo: 'test',
      words: `The last test of ${name} is more than ${freshDays} days old. Test it first.`,
    };
  return null;
}

function again({ quantity }: NextStep, reading: Candidate): CorrectionHold {
  return {
    todo: 'test',
    words: `Test ${nameInSentence(quantity.name)} again: ${say(quantity, reading.value)} waits for a second reading.`,
  };
}

/** Doses and changes that nobody planned, since the last test that has seen them. */
function byOutside({
  outside,
  readings,
  now,
  usualPerDay,
  margin,
  quantity,
  target,
}: NextStep): CorrectionHold | null {
  const last = readings
    .filter((one) => one.trust !== 'refuted' && one.trust !== 'unconfirmed')
    .reduce((newest, one) => Math.max(newest, one.at.getTime()), 0);
  const unseen = outside.filter((one) => one.at.getTime() > last && one.at <= now);
  const days = Math.max(0, dayOf(now) - last / dayMs);
  const moved =
    unseen.reduce((sum, one) => sum + one.moves, 0) -
    usualPerDay * Math.min(1, days) * Number(unseen.length > 0);
  const [largest] = [...unseen].sort((a, b) => Math.abs(b.moves) - Math.abs(a.moves));
  if (largest === undefined || Math.abs(moved) <= margin) return null;
  return {
    todo: 'test',
    words: `${largest.words} moved ${nameInSentence(quantity.name)} by about ${sayDifference(quantity, Math.abs(moved), target)} since the last test, outside of this correction. Test it first.`,
  };
}

/** How far the newest retest lies from what was expected, and how far it may. */
export function departureOf(
  { course, margin }: Pick<NextStep, 'course' | 'margin'>,
  reading: Candidate,
): { expected: number; u: number; by: number; allowed: number } {
  const { value: expected, u } = levelAt(course, dayOf(reading.at));
  return {
    expected,
    u,
    by: reading.value - expected,
    allowed: 2 * combine(u, reading.uncertainty) + margin,
  };
}

function byDeparture(next: NextStep): CorrectionHold | null {
  const { quantity, now, suspectKits, margin } = next;
  const since = startingReading(retestsOf(next), suspectKits, now);
  if (since.kind !== 'single' && since.kind !== 'confirmed') return null;
  const { reading } = since;
  const { expected, by, allowed } = departureOf(next, reading);
  if (Math.abs(by) <= allowed) return null;
  const words = `${say(quantity, reading.value)} was read where the plan expects ${say(quantity, expected)}: ${sayDifference(quantity, Math.abs(by), reading.value)} ${by < 0 ? 'lower' : 'higher'}`;
  const limit = `the two tests and a margin of ${sayDifference(quantity, margin, reading.value)} explain ${sayDifference(quantity, allowed, reading.value)}`;
  return since.kind === 'single'
    ? {
        todo: 'test',
        words: `Test ${nameInSentence(quantity.name)} again: ${words}; ${limit}. One test alone decides nothing.`,
      }
    : { todo: 'revise', words: `${words}; ${limit}. Revise from this reading, or stop.` };
}

/** The next step must not carry the level past the target by more than what is uncertain. */
function byTarget(next: NextStep): CorrectionHold | null {
  const { quantity, target, step, course, margin, suspectKits, now } = next;
  const since = startingReading(next.readings, suspectKits, now);
  if (since.kind !== 'single' && since.kind !== 'confirmed') return null;
  const up = Math.sign(target - course.from.value);
  const { value: level, u } = expectedBy(next, since.reading);
  const beyond = up * (level + step.change - target);
  if (beyond <= 2 * u + margin) return null;
  return {
    todo: 'revise',
    words: `After the last reading of ${say(quantity, since.reading.value)} this step would carry it past the target of ${say(quantity, target)}. Revise from that reading, or stop: the correction may be done.`,
  };
}

/** The level now by the newest reading alone and what was done since it. */
function expectedBy({ course, now }: NextStep, reading: Candidate): { value: number; u: number } {
  const from = { day: dayOf(reading.at), value: reading.value, u: reading.uncertainty };
  return levelAt({ ...course, from }, dayOf(now));
}

function bySaturation(next: NextStep): CorrectionHold | null {
  const { quantity, water, step } = next;
  const after = chemistryAfter(water, quantity.code, step.change);
  const found = after === null ? null : saturationOf(after);
  if (!found?.passes || step.change <= 0) return null;
  const taken = found.assumed.length === 0 ? '' : ` (${found.assumed.join(' and ')} taken)`;
  return {
    todo: 'test',
    words: `Calcium, alkalinity and magnesium together would pass what water keeps dissolved: aragonite saturation ${numberWords(found.omega, 1)}${taken}, bound ${numberWords(found.bound)} (Moras et al. 2022). Test all three and pH, and bring down the one that is high.`,
  };
}

/** The water once the step is done. */
export function chemistryAfter(water: WaterChemistry, code: string, change: number): WaterChemistry | null {
  if (code !== 'alkalinity' && code !== 'calcium' && code !== 'magnesium') return null;
  const level = water[code];
  return level === null ? null : { ...water, [code]: level + change };
}

/** The reading that shows the target met: reached outright, or near enough once all steps are done; else null. */
export function metBy(
  next: Pick<NextStep, 'readings' | 'lastDoneAt' | 'suspectKits' | 'now' | 'target' | 'margin'> & {
    fromValue: number;
    fromAt: Date;
    waitForAll: boolean;
  },
): Candidate | null {
  const { suspectKits, now, target, margin, fromValue, fromAt, waitForAll } = next;
  const after = retestsOf(next).filter((one) => one.at > fromAt);
  const since = startingReading(after, suspectKits, now);
  if (since.kind !== 'single' && since.kind !== 'confirmed') return null;
  const { reading } = since;
  const near = Math.max(reading.uncertainty, margin);
  const short = Math.sign(target - fromValue) * (target - reading.value);
  const met = waitForAll ? Math.abs(short) <= near : short <= 0 && short >= -near;
  return met ? reading : null;
}

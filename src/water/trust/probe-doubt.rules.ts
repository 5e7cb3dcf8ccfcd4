import type { Sample } from '../../science/control/probe.ts';
import { equalValues, noisyStill, switchedSteps } from '../../science/control/probe-signal.ts';
import { normalTail } from '../../science/statistics/normal.ts';
import { combine } from '../../science/statistics/uncertainty.ts';
import { type Quantity, say, sayDifference } from '../quantities/quantities.ts';

/** What one probe showed lately, and what is known of it. Times in days since 1970, values canonical. */
export interface ProbeTrace {
  code: string;
  methodId: string;
  /** Null where its readings are read off and no instrument is named. */
  kitId: string | null;
  label: string;
  /** It sends its values by itself. */
  selfReporting: boolean;
  /** Standard uncertainty of a value. */
  u: number;
  /** The newest value of each half hour of ten days, oldest first. */
  samples: readonly Sample[];
  /** In standards, oldest first. */
  checks: readonly { day: number; standard: number; value: number; u: number }[];
  openedDay: number | null;
  expiresDay: number | null;
  /** Since when it was found without a vote before, where it was; null (or left out) where it was not. */
  doubtedDay?: number | null;
}

/** A test that was not made with a probe; canonical. */
export interface HandTest {
  day: number;
  value: number;
  u: number;
}

/** Why a probe has not used until it is checked. */
export interface ProbeDoubt {
  kind: 'flat' | 'noisy and flat' | 'off' | 'drifting' | 'out of calibration' | 'switched';
  /** Its values count for nothing from here on. */
  sinceDay: number;
  /** To go on after the probe's name: "has shown 8.41 for 62 h". */
  words: string;
}

type Said = Pick<Quantity, 'code' | 'canonicalUnit' | 'displayUnit' | 'decimals'>;

/**
 * How long equal values are flat (days) and how many of them, sent or read off; how far water that is read at the same hour scatters (own
 * choice); and the least that a day moves where a probe has no past of its own; only for
 * what swings with the day. From a simulation of swing and rounding: pH within a digit for 12 h comes once in 20,000
 * times, temperature at 0.1 degC once in 20.
 */
const swings: Readonly<
  Record<
    string,
    { flatDays: number; sent: number; readOff: number; sameHour: number; leastRange: number | null }
  >
> = {
  ph: { flatDays: 0.5, sent: 5, readOff: 5, sameHour: 0.02, leastRange: 0.1 },
  oxygen: { flatDays: 0.5, sent: 5, readOff: 5, sameHour: 0.1, leastRange: 0.5 },
  temperature: { flatDays: 1, sent: 5, readOff: 10, sameHour: 0.05, leastRange: null },
};

/** Divisions of a scale or display that somebody reads, canonical, the coarsest first. */
const divisions = [1, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01];
/** Equal values are no accident below this chance; own choice. */
const accident = 1e-3;

/**
 * From how many equal values on it is no accident that somebody read the same each time: water that is read at the same hour
 * scatters by `sd` about its middle, and what is read is rounded to a division. A thermometer with marks at half degrees shows
 * the same for weeks, and says nothing of whether it works.
 */
function equalByChance(samples: readonly Sample[], sd: number): number {
  const onMark = (step: number) =>
    samples.every(({ value }) => Math.abs(value / step - Math.round(value / step)) < 1e-6);
  const step = divisions.find(onMark) ?? 0;
  const same = 1 - 2 * normalTail(step / 2 / sd);
  return 1 + Math.log(accident) / Math.log(Math.max(same, 1e-9));
}

/** A check within so many of its standard deviations bears the probe out; ISO 5725-6 for two results of one method. */
const checkLimit = 2.8;
/** A probe that a standard bore out within this many days is believed over hand tests; own choice. */
const checkedDays = 30;
/** Two results by two methods differ beyond this many combined standard uncertainties (95 %). */
export const differLimit = 1.96;
/** A hand test is compared with what the probe showed within this; days. */
const nearDays = 2 / 24;

/** Why the probe has no vote at the day given, the gravest first; null where it has one. */
export function probeDoubt(
  trace: ProbeTrace,
  hands: readonly HandTest[],
  quantity: Said,
  today: number,
): ProbeDoubt | null {
  const found = presentDoubt(trace, hands, quantity, today);
  return found === null
    ? null
    : { ...found, sinceDay: Math.min(found.sinceDay, trace.doubtedDay ?? Infinity) };
}

function presentDoubt(
  trace: ProbeTrace,
  hands: readonly HandTest[],
  quantity: Said,
  today: number,
): ProbeDoubt | null {
  const borneOut = lastGoodCheck(trace);
  const since = Math.max(borneOut ?? -Infinity, trace.openedDay ?? -Infinity);
  const samples = trace.samples.filter(({ day }) => day >= since);
  return (
    uncalibrated(trace, quantity, today) ??
    flat({ ...trace, samples }, quantity) ??
    switched(samples, trace, quantity) ??
    (borneOut !== null && today - borneOut <= checkedDays
      ? null
      : offHands({ ...trace, samples }, hands, quantity))
  );
}

const isGood = ({ value, standard, u }: ProbeTrace['checks'][number]) =>
  Math.abs(value - standard) <= checkLimit * Math.max(u, 1e-9);

function lastGoodCheck({ checks }: ProbeTrace): number | null {
  const last = checks.at(-1);
  return last !== undefined && isGood(last) ? last.day : null;
}

function uncalibrated({ checks, expiresDay }: ProbeTrace, quantity: Said, today: number): ProbeDoubt | null {
  const last = checks.at(-1);
  if (last !== undefined && !isGood(last)) {
    const words = `showed ${say(quantity, last.value)} in a standard of ${say(quantity, last.standard)}`;
    return { kind: 'out of calibration', sinceDay: last.day, words };
  }
  if (expiresDay === null || expiresDay + 1 > today) return null;
  return {
    kind: 'out of calibration',
    sinceDay: expiresDay + 1,
    words: 'is past the day of its next calibration',
  };
}

const hoursWords = (days: number) => `${Math.round(days * 24)} h`;

function flat({ samples, code, selfReporting }: ProbeTrace, quantity: Said): ProbeDoubt | null {
  const own = swings[code];
  const last = samples.at(-1);
  if (own === undefined || last === undefined) return null;
  const fewest = selfReporting ? own.sent : Math.max(own.readOff, equalByChance(samples, own.sameHour));
  const equal = equalValues(samples, { days: own.flatDays, fewest });
  if (equal !== null) {
    const words = `has shown ${say(quantity, last.value)} for ${hoursWords(last.day - equal.sinceDay)}`;
    return { kind: 'flat', sinceDay: equal.sinceDay, words };
  }
  const still = noisyStill(samples, own.leastRange);
  if (still === null) return null;
  const words = `has shown about ${say(quantity, last.value)} for ${hoursWords(last.day - still.sinceDay)}, with noise about it but without the swing of a day`;
  return { kind: 'noisy and flat', sinceDay: still.sinceDay, words };
}

/** A switched step counts from this many standard uncertainties on; own choice. */
const stepLimit = 3;

function switched(samples: readonly Sample[], { u, code }: ProbeTrace, quantity: Said): ProbeDoubt | null {
  if (swings[code] === undefined) return null;
  const steps = switchedSteps(samples, stepLimit * u);
  if (steps === null) return null;
  const by = sayDifference(quantity, steps.by, samples.at(-1)?.value ?? 0);
  const words = `steps by ${by} and back at the same two times of day, as lamps or pumps that leak current make it`;
  return { kind: 'switched', sinceDay: steps.sinceDay, words };
}

/** A hand test beside what the probe showed then. `by`: how much more the probe shows. */
export interface HandPair {
  test: HandTest;
  shown: Sample;
  by: number;
  /** What the two may differ by (95 %). */
  limit: number;
}

/** The hand tests that have a value of the probe within two hours, oldest first. */
export function handPairs(
  { samples, u }: Pick<ProbeTrace, 'samples' | 'u'>,
  hands: readonly HandTest[],
): HandPair[] {
  return hands.flatMap((test) => {
    const near = samples.filter(({ day }) => Math.abs(day - test.day) <= nearDays);
    const shown = near.sort((a, b) => Math.abs(a.day - test.day) - Math.abs(b.day - test.day))[0];
    if (shown === undefined) return [];
    return [{ test, shown, by: shown.value - test.value, limit: differLimit * combine(u, test.u) }];
  });
}

const differs = ({ by, limit }: HandPair) => Math.abs(by) > limit;

function offHands(trace: ProbeTrace, hands: readonly HandTest[], quantity: Said): ProbeDoubt | null {
  const pairs = handPairs(trace, hands);
  return drifting(pairs, quantity) ?? off(pairs, quantity);
}

/** Two hand tests running that say alike of the probe decide. */
function off(pairs: readonly HandPair[], quantity: Said): ProbeDoubt | null {
  const [before, last] = pairs.slice(-2);
  if (before === undefined || last === undefined || !differs(before) || !differs(last)) return null;
  if (Math.sign(before.by) !== Math.sign(last.by)) return null;
  const by = sayDifference(quantity, Math.abs(last.by), last.test.value);
  const words = `shows ${by} ${last.by > 0 ? 'more' : 'less'} than two tests by hand`;
  return { kind: 'off', sinceDay: Math.min(before.test.day, before.shown.day), words };
}

/** Three that move away in one direction are a drift. */
function drifting(pairs: readonly HandPair[], quantity: Said): ProbeDoubt | null {
  const row = pairs.slice(-3);
  const [first, middle, last] = row;
  if (first === undefined || middle === undefined || last === undefined || !differs(last)) return null;
  const away = Math.sign(last.by);
  if ((last.by - middle.by) * away <= 0 || (middle.by - first.by) * away <= 0 || differs(first)) return null;
  if (Math.abs(last.by - first.by) <= last.limit) return null;
  const by = sayDifference(quantity, Math.abs(last.by), last.test.value);
  const words = `has drifted away from three tests by hand, by ${by} at the last`;
  return { kind: 'drifting', sinceDay: middle.test.day, words };
}

import { finite, inRange, notNegative, positive, wholeNumber } from '../numeric/range.ts';
import { normalTail } from '../statistics/normal.ts';
import { numberAfterBound } from './bounds.ts';
import { at, type Correction, correct, correctBound, type Estimate, loosen } from './estimate.ts';

/** One reading; `value`, `sd` and the options' sizes share a unit. */
export interface SlopeReading {
  day: number;
  value: number;
  /** Standard uncertainty of the test. */
  sd: number;
  /** Set when only "below" or "above" `value` is known. */
  bound?: 'below' | 'above';
  /** True when a repeat agreed: it is cut later. */
  confirmed?: boolean;
  /** SD by which readings may have jumped before this one without the water (another kit). */
  jumpSd?: number;
}

/** Constants of the filter of level and slope. */
export interface SlopeOptions {
  /** Noise of the level per root day. */
  levelNoise: number;
  /** Noise of the slope, per day and root day. */
  slopeNoise: number;
  /** What of the slope is left after a day. */
  persistence: number;
  /** The water's own short swing, seen in single readings only. */
  swing: number;
  /** Readings further off than this many SD are pulled in; confirmed ones at `confirmedCut`. */
  cut: number;
  confirmedCut: number;
  /** After this many cut readings running on one side the level is taken to have jumped. */
  jumpAfter: number;
  /** After two running on one side further off than this many SD it is, too: two slips on one side are rarer. */
  pairCut: number;
  /** The first slope is 0 +- this a day. */
  firstSlopeSd: number;
}

/**
 * The constants tuned for alkalinity, for readings in a unit of which `perDkh` make 1 dKH (1 for dKH, 0.357 for
 * meq/L, 17.85 for mg/L as CaCO3).
 */
export function alkalinitySlopeOptions(perDkh: number): SlopeOptions {
  return slopeOptions(0.12 * positive(perDkh, 'units to one dKH'));
}

/**
 * The same shape for any quantity, scaled by the water's usual short swing (SD, in the readings' unit): level noise
 * 0.42, slope noise 0.125 of it, as for alkalinity. Scaling to other quantities is a guess; `fitSlopeNoise` learns.
 */
export function slopeOptions(swing: number): SlopeOptions {
  positive(swing, 'usual swing');
  return {
    levelNoise: (swing * 5) / 12,
    slopeNoise: swing / 8,
    persistence: 0.97,
    swing,
    cut: 2.2,
    confirmedCut: 4,
    jumpAfter: 3,
    pairCut: 3,
    firstSlopeSd: swing / 4,
  };
}

/** Level and slope as known at one time. */
export interface SlopeState {
  day: number;
  level: number;
  levelSd: number;
  /** Change of the level a day. */
  slope: number;
  slopeSd: number;
  levelSlopeCov: number;
}

export interface SlopeStep extends SlopeState {
  reading: SlopeReading;
  /** Reading minus expected over its SD. */
  surprise: number;
  cut: boolean;
}

export interface SlopeTrack {
  /** The state after each reading, in order of time. */
  history: SlopeStep[];
  /** The state at `now`; null when there is no reading yet. */
  now: SlopeState | null;
  /** Where the line broke last, the day of the last reading that fitted before it; null where it never broke. */
  brokeAfter: number | null;
  /** Log likelihood of the readings after the first, each surprise limited as in the filter; compares options. */
  logLikelihood: number;
}

/**
 * Follows a quantity by a local level with a fading slope: each day L += S, S = 0.97 S, with noise on both; a
 * reading's variance is the test's plus that of the water's short swing; surprises are pulled in at `cut` SD, and
 * three running on one side, two far off, or one that a repeat confirmed reopen level and slope. Irregular times; readings after `now` are left out.
 *
 * Harvey 1989, Forecasting, Structural Time Series Models and the Kalman Filter, damped local trend (from memory);
 * constants by simulation, in DEVELOPERS.md.
 */
export function trackSlope(
  readings: readonly SlopeReading[],
  now: number,
  options: SlopeOptions,
): SlopeTrack {
  finite(now, 'now', 'd');
  const sorted = readings.filter((r) => checked(r).day <= now).sort((a, b) => a.day - b.day);
  const [first, ...rest] = sorted;
  if (!first) return { history: [], now: null, brokeAfter: null, logLikelihood: 0 };
  let estimate = firstEstimate(first, options);
  let day = first.day;
  let run = 0;
  let before = 0;
  let fitted = first.day;
  let brokeAfter: number | null = null;
  let brokenAt: number | null = null;
  let onlyBounds = first.bound !== undefined;
  let last = first;
  let logLikelihood = 0;
  const history: SlopeStep[] = [{ ...stateOf(estimate, day), reading: first, surprise: 0, cut: false }];
  for (const reading of rest) {
    estimate = carry(estimate, reading.day - day, options);
    if (reading.jumpSd) estimate = loosen(estimate, 0, reading.jumpSd ** 2);
    day = reading.day;
    const seen = take(estimate, reading, options);
    logLikelihood -= Math.log(seen.sd) + Math.min(seen.z ** 2, options.cut ** 2) / 2;
    run = seen.cut ? (Math.sign(run) === Math.sign(seen.z) ? run : 0) + Math.sign(seen.z) : 0;
    const back = turnsBack(history, brokenAt, reading, options);
    const broken = back || (history.length >= fewestBeforeBreak && isBreak(seen.z, before, reading, options));
    const opens = onlyBounds && reading.bound === undefined;
    const jumped =
      broken || opens || Math.abs(run) >= options.jumpAfter || (seen.cut && numberAfterBound(last, reading));
    estimate = jumped
      ? reopened(
          opens ? loosen(estimate, 0, (openAgain * reading.value) ** 2) : estimate,
          reading,
          seen,
          { days: broken ? day - fitted : null, back },
          options,
        )
      : seen.estimate;
    onlyBounds &&= reading.bound !== undefined;
    last = reading;
    if (broken) [brokeAfter, brokenAt] = [fitted, history.length];
    if (jumped) run = 0;
    if (jumped || !seen.cut) fitted = day;
    before = jumped ? 0 : seen.z;
    history.push({ ...stateOf(estimate, day), reading, surprise: seen.z, cut: seen.cut });
  }
  return { history, now: stateOf(carry(estimate, now - day, options), now), brokeAfter, logLikelihood };
}

/** The level `days` ahead (0 to 90): value and SD, with what level and slope may still do by themselves. */
export function forecastSlope(
  state: SlopeState,
  days: number,
  options: SlopeOptions,
): { value: number; sd: number } {
  inRange(days, 0, 90, 'days ahead', 'd');
  const ahead = carry(estimateOf(state), days, options);
  return { value: ahead.mean[0] ?? 0, sd: Math.sqrt(at(ahead.cov, 0, 0)) };
}

/** Probabilities of standing outside a band. */
export interface Leaving {
  below: number;
  above: number;
}

/**
 * Probability that the level stands below `low` (above `high`) on the likeliest of the days from now to `days` ahead
 * (whole, 1 to 90). Leave a side open with -Infinity or Infinity. The rule on falling alkalinity takes 5 days and
 * compares `below` with `fallingLimit`.
 */
export function probabilityOfLeaving(
  state: SlopeState,
  band: { low: number; high: number },
  options: SlopeOptions,
  days = 5,
): Leaving {
  wholeNumber(days, 1, 90, 'days ahead');
  let ahead = estimateOf(state);
  const leaving = { below: 0, above: 0 };
  for (let day = 0; day <= days; day++) {
    if (day > 0) ahead = carry(ahead, 1, options);
    const [level, sd] = [ahead.mean[0] ?? 0, Math.sqrt(at(ahead.cov, 0, 0))];
    leaving.below = Math.max(leaving.below, normalTail((level - band.low) / sd));
    leaving.above = Math.max(leaving.above, normalTail((band.high - level) / sd));
  }
  return leaving;
}

/**
 * Limit of the probability of leaving within 5 days, for about 0.1 false alerts a year in water whose level wanders
 * (SD 0.15 dKH, 20 days; 120 simulated years a habit): by the usual gap between tests in days and the test's SD in dKH.
 */
export function fallingLimit(gapDays: number, testSdDkh: number): number {
  positive(gapDays, 'gap between tests', 'd');
  notNegative(testSdDkh, 'test SD', 'dKH');
  const tuned = 0.75 * testSdDkh * gapDays ** 0.37;
  return Math.min(0.45, Math.max(0.05, tuned));
}

/** Carries level and slope forward by whole days and a rest. */
function carry(estimate: Estimate, days: number, options: SlopeOptions): Estimate {
  let left = days;
  let ahead = estimate;
  while (left > 0) {
    ahead = step(ahead, Math.min(1, left), options);
    left -= 1;
  }
  return ahead;
}

// Written out for two states: a fifth of the time that general matrices take, and the watch takes thousands of steps.
function step(
  { mean, cov }: Estimate,
  dt: number,
  { persistence, levelNoise, slopeNoise }: SlopeOptions,
): Estimate {
  const [level = 0, slope = 0] = mean;
  const [[ll = 0, ls = 0] = [], [sl = 0, ss = 0] = []] = cov;
  const kept = dt === 1 ? persistence : persistence ** dt;
  const [crossed, moved] = [ls + dt * ss, kept * ss];
  return {
    mean: [level + dt * slope, kept * slope],
    cov: [
      [ll + dt * sl + crossed * dt + levelNoise ** 2 * dt, crossed * kept],
      [kept * sl + moved * dt, moved * kept + slopeNoise ** 2 * dt],
    ],
  };
}

function take(estimate: Estimate, reading: SlopeReading, options: SlopeOptions): Correction {
  const sight = {
    expected: estimate.mean[0] ?? 0,
    slopes: [1, 0],
    variance: reading.sd ** 2 + options.swing ** 2,
  };
  const cut = reading.confirmed ? options.confirmedCut : options.cut;
  return reading.bound
    ? correctBound(estimate, sight, reading.value, reading.bound, cut)
    : correct(estimate, sight, reading.value, cut);
}

/** So many readings make a line that can break; a first reading that slipped is no line. Own choice. */
const fewestBeforeBreak = 3;

/** Whether the line breaks at a reading: a repeat confirmed that it is off, or it is the second far off on one side. */
function isBreak(
  z: number,
  before: number,
  { confirmed, bound }: SlopeReading,
  options: SlopeOptions,
): boolean {
  if (bound !== undefined) return false;
  if (confirmed === true && Math.abs(z) > options.cut) return true;
  return z * before > 0 && Math.min(Math.abs(z), Math.abs(before)) > options.pairCut;
}

/** Until so many readings after a break its slope is still open, and a step back would pass for one; own choice. */
const openAfterBreak = 3;

/** Whether a confirmed reading goes back from a break, further than test and swing explain: another step, and no slope. */
function turnsBack(
  history: readonly SlopeStep[],
  brokenAt: number | null,
  { value, sd, confirmed, bound }: SlopeReading,
  { cut, swing }: SlopeOptions,
): boolean {
  const [broke, last] = [brokenAt === null ? undefined : history[brokenAt], history.at(-1)];
  if (broke === undefined || last === undefined || brokenAt === null) return false;
  if (confirmed !== true || bound !== undefined || history.length - brokenAt > openAfterBreak) return false;
  const off = value - last.level;
  return off * broke.surprise < 0 && Math.abs(off) > cut * Math.hypot(sd, swing, last.levelSd);
}

/** The shortest time over which a break is taken for a change of slope, so that a step between a test and its repeat is none; days, own choice. */
const leastBreakDays = 0.5;

/**
 * Opens the level by as much as the reading is off, where the line broke the slope too (over the days since the last
 * reading that fitted; null: the slope stays), and takes the reading in: the level goes to it, the next tell the slope.
 * A reading off against the slope, or back from a break, ends it: nothing says that the level goes on as before.
 */
function reopened(
  estimate: Estimate,
  reading: SlopeReading,
  { z, sd }: Correction,
  { days, back }: { days: number | null; back: boolean },
  options: SlopeOptions,
): Estimate {
  const [[ll = 0, ls = 0] = [], [sl = 0, ss = 0] = []] = estimate.cov;
  const off = z * sd;
  const slopeSd = days === null ? 0 : off / Math.max(leastBreakDays, days);
  const [level = 0, slope = 0] = estimate.mean;
  const ended = back || slope * off < 0;
  const wide = {
    mean: [level, ended ? 0 : slope],
    cov: [
      [ll + off ** 2, ended ? 0 : ls],
      [ended ? 0 : sl, ss + slopeSd ** 2 + (ended ? slope ** 2 : 0)],
    ],
  };
  return take(wide, { ...reading, confirmed: true }, options).estimate;
}

/** A level of which only bounds are known is anywhere within so many times the first number; own choice. */
const openAgain = 2;

/** A first bound leaves the level anywhere between 0 and it: its middle, with the spread of an even chance; one from above by half of it. */
function firstEstimate({ value, sd, bound }: SlopeReading, { swing, firstSlopeSd }: SlopeOptions): Estimate {
  const below = bound === 'below';
  const spread = below ? Math.abs(value) / Math.sqrt(12) : Math.abs(value) / 2;
  const levelSd = bound === undefined ? sd : spread;
  return {
    mean: [below ? value / 2 : value, 0],
    cov: [
      [levelSd ** 2 + swing ** 2, 0],
      [0, firstSlopeSd ** 2],
    ],
  };
}

function stateOf({ mean, cov }: Estimate, day: number): SlopeState {
  return {
    day,
    level: mean[0] ?? 0,
    levelSd: Math.sqrt(at(cov, 0, 0)),
    slope: mean[1] ?? 0,
    slopeSd: Math.sqrt(at(cov, 1, 1)),
    levelSlopeCov: at(cov, 0, 1),
  };
}

function estimateOf({ level, levelSd, slope, slopeSd, levelSlopeCov }: SlopeState): Estimate {
  return {
    mean: [level, slope],
    cov: [
      [levelSd ** 2, levelSlopeCov],
      [levelSlopeCov, slopeSd ** 2],
    ],
  };
}

function checked(reading: SlopeReading): SlopeReading {
  finite(reading.day, 'day of reading', 'd');
  finite(reading.value, 'reading');
  positive(reading.sd, 'standard uncertainty of the reading');
  return reading;
}

import { mean, median } from 'd3-array';
import { finite, inRange, notNegative, positive, wholeNumber } from '../numeric/range.ts';
import { normalTail } from '../statistics/normal.ts';
import { weightedMean } from '../statistics/uncertainty.ts';

/** A hint at a kit's relative bias (-0.1: reads 10 % low) from one kind of observation. */
export interface KitEvidence {
  from: 'opening step' | 'checks' | 'pairs';
  bias: number;
  sd: number;
  /** The bias with each error limited, where that differs: the verdict uses it, so that one slip decides nothing. */
  limited?: number;
  /** Readings on the poorer side of the step, check tests, or pairs. */
  count: number;
  /** How often it was there to be looked at: occasions of checks; 1 when left out. */
  looks?: number;
}

/** A reading of the system's water with the kit in question or the one before. */
export interface KitReading {
  day: number;
  value: number;
}

/** SD of one slip-free test is limited to this many SD when checks are averaged. */
const CHECK_CUT = 3.5;
const STEP_CUT = 2.5;
const WINDOW_DAYS = 14;

/**
 * The step of the readings at a kit's opening, relative to the level before: robust mean of the `days` after less that
 * of the `days` before. Null with no reading on a side. Until the days after are over it counts for less (its SD is
 * taken larger by the root of days over days gone), since it is looked at again with every reading.
 *
 * @param u relative standard uncertainty of one reading
 * @param wander SD of such steps in this water when no kit is opened (`usualStep`); the kit's own error is added
 */
export function openingStep(
  readings: readonly KitReading[],
  openedOn: number,
  u: number,
  wander: number,
  days = WINDOW_DAYS,
): KitEvidence | null {
  positive(u, 'relative uncertainty');
  notNegative(wander, 'usual step');
  const opening = finite(openedOn, 'day of opening', 'd');
  const step = stepAt(lineOf(readings), opening, u, positive(days, 'days', 'd'));
  if (!step) return null;
  const noise = u * Math.sqrt(1 / step.before + 1 / step.after);
  const gone = Math.max(...readings.map(({ day }) => day)) - openedOn + 1;
  return {
    from: 'opening step',
    bias: step.size,
    sd: Math.hypot(noise, wander) / Math.sqrt(Math.min(1, gone / days)),
    count: Math.min(step.before, step.after),
  };
}

/**
 * How large such steps usually are in this water by its own wandering: the SD of the steps at days on which no kit was
 * opened, one every `days`, less what the tests' own error makes. Null with fewer than 5 such days.
 */
export function usualStep(
  readings: readonly KitReading[],
  openings: readonly number[],
  u: number,
  days = WINDOW_DAYS,
): number | null {
  const line = lineOf(readings);
  const [first, last] = [(line.days.at(0) ?? Infinity) + days, (line.days.at(-1) ?? -Infinity) - days];
  const steps: { size: number; noise: number }[] = [];
  for (let day = first; day <= last; day += days) {
    if (openings.some((opened) => Math.abs(opened - day) < days)) continue;
    const step = stepAt(line, day, u, days);
    if (step) steps.push({ size: step.size, noise: u * u * (1 / step.before + 1 / step.after) });
  }
  if (steps.length < 5) return null;
  const total = mean(steps, ({ size }) => size * size) ?? 0;
  return Math.sqrt(Math.max(0, total - (mean(steps, ({ noise }) => noise) ?? 0)));
}

/** Tests of one standard on one occasion: two, and a third when they disagree. */
export interface CheckOccasion {
  tests: readonly number[];
  /** Known value of the standard, and its relative standard uncertainty (at most a third of the test's). */
  known: number;
  knownSd: number;
}

/**
 * The mean error of all checks of one kit, relative to the standard: of each occasion the mean of its tests (of three
 * the median), errors far from the others pulled in to 3.5 SD; `limited` has each pulled in to 3.5 SD of none. Null
 * without checks.
 *
 * @param u relative standard uncertainty of one test
 */
export function checkError(occasions: readonly CheckOccasion[], u: number): KitEvidence | null {
  positive(u, 'relative uncertainty');
  if (occasions.length === 0) return null;
  const errors = occasions.map(({ tests, known }) => {
    wholeNumber(tests.length, 1, 20, 'tests of one check');
    const value = tests.length > 2 ? median(tests) : mean(tests);
    const error = finite(value ?? Number.NaN, 'check') / positive(known, 'known value') - 1;
    return { error, sd: u * spreadOfMiddle(tests.length) };
  });
  const middle = median(errors, ({ error }) => error) ?? 0;
  const knownSd = Math.max(...occasions.map((o) => notNegative(o.knownSd, 'uncertainty of the standard')));
  const own = Math.sqrt((mean(errors, ({ sd }) => sd * sd) ?? 0) / errors.length);
  return {
    from: 'checks',
    bias: middle + (mean(errors, ({ error, sd }) => clamp(error - middle, CHECK_CUT * sd)) ?? 0),
    limited: mean(errors, ({ error, sd }) => clamp(error, CHECK_CUT * sd)) ?? 0,
    sd: Math.hypot(own, knownSd),
    count: occasions.reduce((sum, { tests }) => sum + tests.length, 0),
    looks: occasions.length,
  };
}

/**
 * Old and new kit on the same water on the opening day: the median of new/old - 1 over the pairs. Null without pairs;
 * fewer than three decide nothing, since one slip looks the same.
 *
 * @param u relative standard uncertainty of one test, of either kit
 */
export function pairedDifference(
  pairs: readonly { old: number; new: number }[],
  u: number,
): KitEvidence | null {
  positive(u, 'relative uncertainty');
  if (pairs.length === 0) return null;
  const bias =
    median(pairs, (pair) => finite(pair.new, 'test') / positive(pair.old, 'test of the old kit') - 1) ?? 0;
  return { from: 'pairs', bias, sd: u * Math.SQRT2 * medianSpread(pairs.length), count: pairs.length };
}

export type KitVerdict = 'reads low' | 'reads high' | 'suspect' | 'kit or water, cannot tell yet' | 'no sign';

export interface KitJudgement {
  verdict: KitVerdict;
  /**
   * Joint estimate of the relative bias, its SD, and the two-sided probability of as much by chance, times the looks
   * there were; null without evidence.
   */
  bias: number | null;
  sd: number | null;
  p: number | null;
  /** Whether there is enough to suspect it. */
  enough: boolean;
  evidence: KitEvidence[];
}

/**
 * Joins all that hints at a kit's bias, each weighted by 1/SD^2: it reads low or high at p < 0.01, is suspect at
 * p < 0.05 (neither from fewer than four check tests, nor from fewer than three readings on a side or three pairs,
 * since 1 in 50 tests is a slip). Every further occasion of checks is one more look at the same kit, so p counts once more for each
 * (Bonferroni), and a true kit is suspected in about 1 of 20 in all its life. There is no sign when a bias of `material` (10 %) is ruled out at 95 %; else one cannot tell yet.
 *
 * Design and power by simulation, in DEVELOPERS.md: alkalinity 10 % low is found from use alone in two weeks (daily
 * tests, 95 %), nitrate only by a standard.
 */
export function judgeKit(hints: readonly (KitEvidence | null)[], material = 0.1): KitJudgement {
  inRange(material, 0.001, 1, 'bias that matters');
  const evidence = hints.filter((hint) => hint !== null);
  if (evidence.length === 0) {
    return {
      verdict: 'kit or water, cannot tell yet',
      bias: null,
      sd: null,
      p: null,
      enough: false,
      evidence,
    };
  }
  const { value: bias, u: sd } = weightedMean(evidence.map((e) => ({ value: e.bias, u: e.sd })));
  const limited = weightedMean(evidence.map((e) => ({ value: e.limited ?? e.bias, u: e.sd }))).value;
  const p = Math.min(1, 2 * normalTail(Math.abs(limited) / sd) * looksAt(evidence));
  const enough = evidence.some(isEnough);
  return { verdict: verdictOf(bias, sd, p, material, enough), bias, sd, p, enough, evidence };
}

function verdictOf(bias: number, sd: number, p: number, material: number, enough: boolean): KitVerdict {
  if (p < 0.01 && enough) return bias < 0 ? 'reads low' : 'reads high';
  if (p < 0.05 && enough) return 'suspect';
  return Math.abs(bias) + 1.96 * sd < material ? 'no sign' : 'kit or water, cannot tell yet';
}

/** The opening step and pairs are one look together, each occasion of checks is one more. */
function looksAt(evidence: readonly KitEvidence[]): number {
  const checks = evidence.filter(({ from }) => from === 'checks');
  const occasions = checks.reduce((sum, { looks = 1 }) => sum + looks, 0);
  return occasions + (checks.length < evidence.length ? 1 : 0);
}

function isEnough({ from, count }: KitEvidence): boolean {
  return count >= (from === 'checks' ? 4 : 3);
}

/** Readings in order of time, as two columns. */
interface Line {
  days: Float64Array;
  values: Float64Array;
}

function lineOf(readings: readonly KitReading[]): Line {
  const inOrder = readings.every(({ day }, i) => i === 0 || day >= (readings[i - 1]?.day ?? day));
  const sorted = inOrder ? readings : [...readings].sort((a, b) => a.day - b.day);
  return {
    days: Float64Array.from(sorted, ({ day }) => day),
    values: Float64Array.from(sorted, ({ value }) => value),
  };
}

// The watch looks for steps on every two weeks of every kit's water: columns and windows of them, no copies.
function stepAt({ days: all, values }: Line, day: number, u: number, days: number) {
  const at = firstFrom(all, day);
  const before = values.subarray(firstFrom(all, day - days), at);
  const after = values.subarray(at, firstFrom(all, day + days));
  if (before.length === 0 || after.length === 0) return null;
  const level = positive(robustMean(before, u), 'level before the opening');
  return { size: robustMean(after, u) / level - 1, before: before.length, after: after.length };
}

/** Where in days in order those from `day` on begin. */
function firstFrom(days: Float64Array, day: number): number {
  let [low, high] = [0, days.length];
  while (low < high) {
    const half = (low + high) >> 1;
    if ((days[half] ?? 0) < day) low = half + 1;
    else high = half;
  }
  return low;
}

/** Mean of the values, each pulled in to 2.5 SD from the median; the SD the larger of the test's and of the middle half's. */
function robustMean(values: Float64Array, u: number): number {
  const middle = middleOf(values.slice().sort());
  const spread = 1.4826 * middleOf(values.map((v) => Math.abs(v - middle)).sort());
  const reach = STEP_CUT * Math.max(spread, u * Math.abs(middle));
  let sum = 0;
  for (const value of values) sum += clamp(value - middle, reach);
  return middle + sum / values.length;
}

/** Median of sorted values, as d3's. */
function middleOf(sorted: Float64Array): number {
  const half = (sorted.length - 1) / 2;
  const [low = 0, high = 0] = [sorted[Math.floor(half)], sorted[Math.ceil(half)]];
  return low + (high - low) * (half % 1);
}

/** SD of the mean of one or two tests, or of the median of more, in SD of one. */
function spreadOfMiddle(tests: number): number {
  return tests <= 2 ? 1 / Math.sqrt(tests) : medianSpread(tests);
}

/** SD of the median of n normal values, in SD of one: within 1 % for odd n (0.670 of three), up to 8 % too large for even. */
function medianSpread(n: number): number {
  return n <= 2 ? 1 / Math.sqrt(n) : Math.sqrt(Math.PI / (2 * n + 1.0));
}

function clamp(value: number, reach: number): number {
  return Math.max(-reach, Math.min(reach, value));
}

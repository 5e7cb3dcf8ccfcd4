import { mean, median } from 'd3-array';
import { finite, inRange, notNegative, positive, wholeNumber } from '../numeric/range.ts';
import { normalTail } from '../statistics/normal.ts';
import { studentWithin } from '../statistics/student.ts';
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
  /** Degrees of freedom behind the SD, where it was learnt; left out where it is known. */
  dof?: number;
  /** How many days after the opening a step is told from. */
  days?: number;
  /** The bottle that a step or pairs compare it with; '' (or left out) for the one before. */
  other?: string;
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

/** How large steps are in a water by its own wandering, and how well that is known. */
export interface UsualStep {
  /** SD, relative. */
  sd: number;
  /** Degrees of freedom: of how many windows it was learnt. */
  dof: number;
}

/**
 * The step of the readings at a kit's opening, relative to the level before: robust mean of the `days` after less that
 * of the `days` before, the water's own slope over both taken out. It says that two bottles differ, not which of them is
 * wrong. Null with no reading on a side. Until the days after are over it counts for less (its SD is taken larger by the
 * root of days over days gone), since it is looked at again with every reading.
 *
 * @param u relative standard uncertainty of one reading
 * @param wander such steps in this water when no kit is opened (`usualStep`); the kit's own error is added
 */
export function openingStep(
  readings: readonly KitReading[],
  openedOn: number,
  u: number,
  wander: UsualStep,
  days = WINDOW_DAYS,
): KitEvidence | null {
  positive(u, 'relative uncertainty');
  notNegative(wander.sd, 'usual step');
  const opening = finite(openedOn, 'day of opening', 'd');
  const step = stepAt(lineOf(readings), opening, u, positive(days, 'days', 'd'));
  if (!step) return null;
  const gone = Math.max(...readings.map(({ day }) => day)) - openedOn + 1;
  const sd = Math.hypot(step.noise, wander.sd);
  return {
    from: 'opening step',
    bias: step.size,
    sd: sd / Math.sqrt(Math.min(1, gone / days)),
    count: Math.min(step.before, step.after),
    days: gone,
    // Welch and Satterthwaite: only the wandering is learnt.
    ...(wander.sd === 0 ? {} : { dof: wander.dof * (sd / wander.sd) ** 4 }),
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
): UsualStep | null {
  const line = lineOf(readings);
  const [first, last] = [(line.days.at(0) ?? Infinity) + days, (line.days.at(-1) ?? -Infinity) - days];
  const steps: { size: number; noise: number }[] = [];
  for (let day = first; day <= last; day += days) {
    if (openings.some((opened) => Math.abs(opened - day) < days)) continue;
    const step = stepAt(line, day, u, days);
    if (step) steps.push({ size: step.size, noise: step.noise ** 2 });
  }
  if (steps.length < 5) return null;
  const total = mean(steps, ({ size }) => size * size) ?? 0;
  const own = Math.max(0, total - (mean(steps, ({ noise }) => noise) ?? 0));
  return { sd: Math.sqrt(own), dof: steps.length };
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
  other = '',
): KitEvidence | null {
  positive(u, 'relative uncertainty');
  if (pairs.length === 0) return null;
  const bias =
    median(pairs, (pair) => finite(pair.new, 'test') / positive(pair.old, 'test of the old kit') - 1) ?? 0;
  return { from: 'pairs', bias, sd: u * Math.SQRT2 * medianSpread(pairs.length), count: pairs.length, other };
}

export type KitVerdict = 'reads low' | 'reads high' | 'suspect' | 'kit or water, cannot tell yet' | 'no sign';

/** How a bottle differs from another one: `bias` is this one's reading over the other's, less 1. */
interface Difference {
  other: string;
  bias: number;
  sd: number;
  /** Two-sided probability of as much by chance. */
  p: number;
  enough: boolean;
}

export interface KitJudgement {
  verdict: KitVerdict;
  /**
   * Joint estimate of the relative bias, its SD, and the two-sided probability of as much by chance, times the looks
   * there were; null without evidence. By bottles alone: of their difference.
   */
  bias: number | null;
  sd: number | null;
  p: number | null;
  /** Whether there is enough to suspect it. */
  enough: boolean;
  /** Whether a standard or a third bottle speaks of it, or only its difference from another bottle, which does not say whose. */
  by: 'standard' | 'third bottle' | 'two bottles' | 'nothing';
  /** The bottle it was compared with, where what clears this one says that the other reads wrong, and by how much. */
  before: { other: string; bias: number; sd: number } | null;
  evidence: KitEvidence[];
}

/** Chances below which a kit is named, and suspected. */
const [namedBelow, suspectedBelow] = [0.01, 0.05];
/** SD by which bottles of one kind differ, relative, where the caller does not know better; own choice. */
const bottlesDiffer = 0.04;

/**
 * Joins all that hints at a kit's bias. A step at its opening and pairs with another bottle say that two bottles differ,
 * not which: they make both suspects at p < 0.05 and name neither. A standard, or a third bottle, tells which: then all is
 * weighted by 1/SD^2, what bottles say with the spread of bottles added, and the kit reads low or high at p < 0.01, is suspect
 * at p < 0.05; where that clears it and the bottles surely differ, the other one is named (`before`). Nothing is told from
 * fewer than four check tests, three readings on a side or three pairs, since 1 in 50 tests is a slip, nor from a step before
 * its seventh day. Every further occasion of checks is one more look at the same kit, so p counts once more for each
 * (Bonferroni), and a true kit is suspected in about 1 of 20 in all its life. There is no sign when a bias of `material`
 * (10 %) is ruled out at 95 %; else one cannot tell yet. Tails are Student's t where an SD was learnt from the water.
 *
 * Design and power by simulation, in DEVELOPERS.md.
 */
export function judgeKit(
  hints: readonly (KitEvidence | null)[],
  material = 0.1,
  differ = bottlesDiffer,
): KitJudgement {
  inRange(material, 0.001, 1, 'bias that matters');
  const evidence = hints.filter((hint) => hint !== null);
  const untold = { bias: null, sd: null, p: null, enough: false, before: null, by: 'nothing' as const };
  if (evidence.length === 0) return { verdict: 'kit or water, cannot tell yet', ...untold, evidence };
  const checks = evidence.filter(({ from }) => from === 'checks');
  const compared = differencesOf(evidence.filter(({ from }) => from !== 'checks'));
  if (checks.length > 0) return { ...byStandard(checks, compared, material, differ), evidence };
  const told = byThirdBottle(compared, differ);
  if (told !== null) return { ...told, evidence };
  const [widest] = compared.toSorted((a, b) => Number(b.enough) - Number(a.enough) || a.p - b.p);
  if (widest === undefined) return { verdict: 'kit or water, cannot tell yet', ...untold, evidence };
  const { bias, sd, p, enough } = widest;
  const differs = enough && p < suspectedBelow;
  const verdict = differs ? 'suspect' : verdictOf(bias, sd, 1, material, enough);
  return { verdict, bias, sd, p, enough, by: 'two bottles', before: null, evidence };
}

type Told = Omit<KitJudgement, 'evidence'>;

/** What all steps and pairs say, by the bottle that it is compared with. */
function differencesOf(compared: readonly KitEvidence[]): Difference[] {
  return [...Map.groupBy(compared, ({ other = '' }) => other)].map(([other, own]) => {
    const { bias, sd, p } = joined(own);
    return { other, bias, sd, p, enough: own.some(isEnough) };
  });
}

/** From so many degrees of freedom on Student's t is taken for normal: its tail at 1 in 100 is off by a fiftieth. */
const normalFrom = 200;

/** Weighted by 1/SD^2, with Student's t of as many degrees of freedom as stand behind the SD. */
function joined(evidence: readonly KitEvidence[]): { bias: number; sd: number; p: number } {
  const { value: bias, u: sd } = weightedMean(evidence.map((e) => ({ value: e.bias, u: e.sd })));
  const limited = weightedMean(evidence.map((e) => ({ value: e.limited ?? e.bias, u: e.sd }))).value;
  // Welch and Satterthwaite: part i of the variance is sd^4 / sd_i^2.
  const known = evidence.reduce((sum, e) => sum + (sd ** 4 / e.sd ** 2) ** 2 / (e.dof ?? Infinity), 0);
  const dof = known === 0 ? Infinity : sd ** 4 / known;
  return {
    bias,
    sd,
    p:
      dof < normalFrom
        ? 1 - studentWithin(Math.abs(limited) / sd, dof)
        : 2 * normalTail(Math.abs(limited) / sd),
  };
}

function byStandard(
  checks: readonly KitEvidence[],
  compared: readonly Difference[],
  material: number,
  differ: number,
): Told {
  const bottles = compared.map(
    ({ bias, sd }): KitEvidence => ({ from: 'pairs', bias, sd: Math.hypot(sd, differ), count: 3 }),
  );
  const { bias, sd, p: once } = joined([...checks, ...bottles]);
  const looks = checks.reduce((sum, one) => sum + (one.looks ?? 1), 0) + Number(compared.length > 0);
  const p = Math.min(1, once * looks);
  const surely = checks.some(isEnough);
  // Two tests that a step bears out are no slip.
  const tested = surely || (compared.some((one) => one.enough) && checks.some(({ count }) => count > 1));
  const enough = tested || compared.some((one) => one.enough);
  const verdict = verdictOf(bias, sd, tested ? p : Math.max(p, namedBelow), material, enough);
  const told = {
    verdict,
    bias,
    sd,
    p,
    enough,
    before: null,
    by: tested ? 'standard' : 'two bottles',
  } as const;
  if (!surely || (enough && p < suspectedBelow)) return told;
  const other = compared.find((one) => one.enough && one.p < namedBelow && isCleared(joined(checks), one));
  return other === undefined ? told : { ...told, before: otherOf({ bias, sd }, other) };
}

/** The bottle that both others agree against: this one where it differs from two on one side, the other where a third bears this one out. */
function byThirdBottle(compared: readonly Difference[], differ: number): Told | null {
  const told = compared.filter((one) => one.enough);
  const off = told.filter(({ p }) => p < suspectedBelow);
  const [first, second] = off;
  if (first === undefined || told.length < 2) return null;
  if (second !== undefined) {
    if (first.bias * second.bias < 0) return null;
    const wide = off.map(
      ({ bias, sd }): KitEvidence => ({ from: 'pairs', bias, sd: Math.hypot(sd, differ), count: 3 }),
    );
    const { bias, sd } = joined(wide);
    // Each alone is a matter of chance once in twenty, both on one side far rarer.
    const p = Math.min(1, 2 * off.reduce((all, one) => all * (one.p / 2), 1));
    return {
      verdict: verdictOf(bias, sd, p, Infinity, true),
      bias,
      sd,
      p,
      enough: true,
      before: null,
      by: 'third bottle',
    };
  }
  const third = told.find((one) => one !== first && isCleared(one, first));
  if (third === undefined || first.p >= namedBelow) return null;
  const own = { bias: third.bias / 2, sd: Math.hypot(third.sd, differ) / Math.SQRT2 };
  return { verdict: 'no sign', ...own, p: 1, enough: true, before: otherOf(own, first), by: 'third bottle' };
}

/** Whether what is known of this bottle rules out that the difference is its own. */
const isCleared = (own: { bias: number; sd: number }, difference: Difference): boolean =>
  Math.abs(difference.bias - own.bias) > 1.96 * Math.hypot(own.sd, difference.sd) &&
  Math.abs(own.bias) < Math.abs(difference.bias) / 2;

/** What the other bottle reads wrong by, given what this one does and how the two differ. */
const otherOf = (own: { bias: number; sd: number }, { other, bias, sd }: Difference) => ({
  other,
  bias: (1 + own.bias) / (1 + bias) - 1,
  sd: Math.hypot(own.sd, sd),
});

function verdictOf(bias: number, sd: number, p: number, material: number, enough: boolean): KitVerdict {
  if (p < namedBelow && enough) return bias < 0 ? 'reads low' : 'reads high';
  if (p < suspectedBelow && enough) return 'suspect';
  return Math.abs(bias) + 1.96 * sd < material ? 'no sign' : 'kit or water, cannot tell yet';
}

/** Days from the opening on that a step has to rest on. */
const firstStepDays = 7;

function isEnough({ from, count, days = firstStepDays }: KitEvidence): boolean {
  return count >= (from === 'checks' ? 4 : 3) && days >= firstStepDays;
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

/** SD of the slope that a water may have of itself about an opening, relative a day; own choice: a fiftieth in ten days. */
const SLOPE_SD = 0.002;

// The watch looks for steps on every two weeks of every kit's water: columns and windows of them, no copies.
function stepAt({ days: all, values }: Line, day: number, u: number, days: number) {
  const [from, at, to] = [firstFrom(all, day - days), firstFrom(all, day), firstFrom(all, day + days)];
  if (from === at || at === to) return null;
  const before = sideOf(all.subarray(from, at), values.subarray(from, at), u);
  const after = sideOf(all.subarray(at, to), values.subarray(at, to), u);
  const level = positive(before.mean, 'level before the opening');
  // One slope for both sides, held back by what is usual: without that few tests would take a step for a slope.
  const square = before.square + after.square + (u / SLOPE_SD) ** 2;
  const apart = after.day - before.day;
  const slope = (before.cross + after.cross) / square;
  return {
    size: (after.mean - before.mean - slope * apart) / level,
    noise: u * Math.sqrt(1 / before.count + 1 / after.count + apart ** 2 / square),
    before: before.count,
    after: after.count,
  };
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

/**
 * One side of a step: mean day and value, and the sums of squares of days and of days by values about them. Each value is
 * pulled in to 2.5 SD from the median; the SD the larger of the test's and of the middle half's.
 */
function sideOf(days: Float64Array, values: Float64Array, u: number) {
  const middle = middleOf(values.slice().sort());
  const spread = 1.4826 * middleOf(values.map((v) => Math.abs(v - middle)).sort());
  const reach = STEP_CUT * Math.max(spread, u * Math.abs(middle));
  const count = values.length;
  let [dayOf, off] = [0, 0];
  for (let i = 0; i < count; i++) {
    dayOf += (days[i] ?? 0) / count;
    off += clamp((values[i] ?? middle) - middle, reach) / count;
  }
  let [square, cross] = [0, 0];
  for (let i = 0; i < count; i++) {
    const from = (days[i] ?? 0) - dayOf;
    square += from * from;
    cross += from * (clamp((values[i] ?? middle) - middle, reach) - off);
  }
  return { count, day: dayOf, mean: middle + off, square, cross };
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

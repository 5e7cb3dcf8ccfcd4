import { mean, median } from 'd3-array';
import { finite, notNegative, positive, wholeNumber } from '../numeric/range.ts';

// What is seen of a kit: the step at its opening, checks of a standard, pairs with another bottle.

/** A hint at a kit's relative bias (-0.1: reads 10 % low) from one kind of observation. */
export interface KitEvidence {
  from: 'opening step' | 'checks' | 'pairs';
  bias: number;
  sd: number;
  /** The bias with each error limited, where that differs: the verdict uses it, so that one slip decides nothing. */
  limited?: number;
  /** Readings on the poorer side of the step, check tests, or pairs. */
  count: number;
  /** Of checks: without the test that is furthest off the others still say as much, so that no one slip makes it. */
  agreed?: boolean;
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
  const singles = occasions.flatMap(({ tests, known }) => tests.map((value) => value / known - 1));
  const knownSd = Math.max(...occasions.map((o) => notNegative(o.knownSd, 'uncertainty of the standard')));
  const own = Math.sqrt((mean(errors, ({ sd }) => sd * sd) ?? 0) / errors.length);
  return {
    from: 'checks',
    bias: middle + (mean(errors, ({ error, sd }) => clamp(error - middle, CHECK_CUT * sd)) ?? 0),
    limited: mean(errors, ({ error, sd }) => clamp(error, CHECK_CUT * sd)) ?? 0,
    sd: Math.hypot(own, knownSd),
    count: singles.length,
    agreed: agreeWithoutFurthest(singles, u, knownSd),
    looks: occasions.length,
  };
}

/** Whether the tests but the one that is furthest off say, once in twenty by chance, that it reads off on the same side. */
function agreeWithoutFurthest(errors: readonly number[], u: number, knownSd: number): boolean {
  const [furthest = 0, ...others] = errors.toSorted((a, b) => Math.abs(b) - Math.abs(a));
  const rest = mean(others) ?? 0;
  return rest * furthest > 0 && Math.abs(rest) > 1.96 * Math.hypot(u / Math.sqrt(others.length), knownSd);
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

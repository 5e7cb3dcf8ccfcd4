import { memoizeWith } from '../../../platform/memoize.ts';
import {
  probabilityOfLeaving,
  type SlopeOptions,
  type SlopeReading,
  type SlopeState,
  type SlopeTrack,
  slopeOptions,
  trackSlope,
} from '../../../science/filter/slope.ts';
import { groupRepeats, meanOf } from '../../../science/numeric/repeats.ts';
import type { ReadingFact } from '../../facts/types.ts';
import type { Shift } from './correction-offset.ts';
import type { Edges } from './edges.ts';
import { lowerMiddle } from './spacing.ts';

/** A level followed beside what corrections planned. */
export interface LevelTrack {
  /** At the last reading; the level is what it would be without what was planned. */
  state: SlopeState;
  options: SlopeOptions;
  tests: SlopeReading[];
  /** Where the line broke last: the day, the level before, and what was read; null where it did not. */
  broke: { day: number; from: number; to: number } | null;
  /** What was planned: the level of a day is that of the state and this. */
  shift: Shift;
}

/** Own noise is learnt from readings that are at least this old, so that a trouble does not excuse itself. */
const learnOlderDays = 10;
const fewestToLearn = 20;
/** What is older than this many tests has long been forgotten by the filter; its noise is learnt from more. */
const followed = 60;
const learntFrom = 90;
/** The own noise is never taken for more than this many times the usual. */
const mostTimes = 3;
/** Another kit may read off the one before by this many times a test's uncertainty: own guess. Its step is no slope. */
const kitsDiffer = 2;
/** Scatter of 80 steps is known to a tenth; less than this times the usual says nothing. */
const clearlyMore = 1.25;
/** SD of a normal distribution over the middle of its absolute deviations. */
const normalPerMad = 1.4826;

/**
 * Follows level and slope of readings, oldest first, with the water's usual short swing or, where its own readings
 * scatter more, what they say. Null without readings.
 */
export const trackLevel: (
  readings: readonly ReadingFact[],
  usualSwing: number,
  shift: Shift,
) => LevelTrack | null = memoizeWith((readings) => readings.at(-1), followLevel);

function followLevel(readings: readonly ReadingFact[], usualSwing: number, shift: Shift): LevelTrack | null {
  const tests = slopeReadings(readings, shift);
  const last = tests.at(-1);
  if (last === undefined) return null;
  const options = slopeOptions(ownSwing(tests.slice(-learntFrom), usualSwing));
  const track = trackSlope(tests.slice(-followed), last.day, options);
  return track.now === null ? null : { state: track.now, options, tests, shift, broke: breakOf(track) };
}

function breakOf({ history, brokeAfter }: SlopeTrack): LevelTrack['broke'] {
  if (brokeAfter === null) return null;
  const before = history.findLast(({ day }) => day <= brokeAfter);
  const at = history.find(({ day }) => day > brokeAfter);
  return before && at ? { day: at.day, from: before.level, to: at.reading.value } : null;
}

/** So many days after a break a move back to the level before it is no trend; own choice. */
const returnDays = 7;

/**
 * Whether a level that moves to a side only comes back from a break to the other one: the last test is no further to
 * that side than the level before the break, within one standard deviation of test and swing.
 */
export function comesBack({ broke, tests, options }: LevelTrack, side: 'below' | 'above'): boolean {
  const last = tests.at(-1);
  if (broke === null || last === undefined || last.day - broke.day > returnDays) return false;
  const sign = side === 'below' ? -1 : 1;
  if (sign * (broke.to - broke.from) >= 0) return false;
  return sign * (last.value - broke.from) <= Math.hypot(last.sd, options.swing);
}

/** A test and its repeats within two hours are one, with their weighted middle. */
function slopeReadings(readings: readonly ReadingFact[], shift: Shift): SlopeReading[] {
  const groups = groupRepeats(
    readings,
    (first, one) => first.below === one.below && first.above === one.above,
  );
  return groups.map((group, i) => {
    const [first] = group;
    const sd = Math.max(1e-9, ...group.map(({ u }) => u));
    const before = groups[i - 1]?.at(-1)?.kitId ?? null;
    const otherKit = before !== null && first.kitId !== null && first.kitId !== before;
    return {
      day: first.day,
      value: meanOf(group.map(({ value }) => value)) - shift(first.day),
      sd,
      ...(otherKit
        ? { jumpSd: Math.max(kitsDiffer * sd, first.stepU ?? groups[i - 1]?.at(-1)?.stepU ?? 0) }
        : {}),
      ...(first.below ? { bound: 'below' as const } : {}),
      ...(first.above ? { bound: 'above' as const } : {}),
      confirmed: group.some(({ trust }) => trust === 'confirmed'),
    };
  });
}

/** The swing that the steps between older tests speak for; never less than the usual one. */
function ownSwing(tests: readonly SlopeReading[], usual: number): number {
  const end = tests.at(-1)?.day ?? 0;
  const older = tests.filter(({ day, bound }) => day <= end - learnOlderDays && !bound);
  if (older.length <= fewestToLearn) return usual;
  const steps = older.slice(1).map(({ value }, i) => Math.abs(value - (older[i]?.value ?? value)));
  const scatter = (normalPerMad * lowerMiddle(steps)) / Math.SQRT2;
  const test = lowerMiddle(older.map(({ sd }) => sd));
  if (scatter <= clearlyMore * Math.hypot(test, usual)) return usual;
  return Math.min(mostTimes * usual, Math.sqrt(scatter ** 2 - test ** 2));
}

/**
 * Probability of standing outside a band on the likeliest of the days from the last reading to `days` on, with what
 * corrections are still to do: the side away from which a plan leads is judged where the plan ends.
 */
export function chanceOutside({ state, options, shift }: LevelTrack, { low, high }: Edges, days: number) {
  const ahead = Array.from({ length: days + 1 }, (_, i) => shift(state.day + i));
  const band = { low: low - Math.min(...ahead), high: high - Math.max(...ahead) };
  return probabilityOfLeaving(state, band, options, days);
}

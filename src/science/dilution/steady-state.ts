import { finite, inRange, notNegative, wholeNumber } from '../range.ts';

/** A habit of water changes against a steady production (or use, when negative). */
export interface ChangeHabit {
  /** Part of the volume replaced each time, above 0 to 1. */
  readonly fraction: number;
  /** Days between two changes, 0.01 to 3650. */
  readonly intervalDays: number;
  /** Concentration of the fresh water, in the same unit as the result. */
  readonly fresh: number;
  /** Rise a day with no change made, in the same unit per day; negative for something that is used up. */
  readonly productionPerDay: number;
}

/** What a habit tends to. */
export interface SteadyLevel {
  beforeChange: number;
  afterChange: number;
  /** Mean over time. */
  mean: number;
}

/** Level after level: just before and just after a change. */
export interface ChangeStep {
  day: number;
  before: number;
  after: number;
}

/**
 * The saw-tooth that a habit settles to: just before a change fresh + p d / f, just after it that much less p d.
 * Exact for steady production. A use that fresh water cannot cover gives levels below zero: a RangeError.
 * Source: conservation of mass; the same as repeated dosing in pharmacokinetics (Rowland & Tozer).
 */
export function steadyLevel(habit: ChangeHabit): SteadyLevel {
  checkHabit(habit);
  const made = habit.productionPerDay * habit.intervalDays;
  const beforeChange = habit.fresh + made / habit.fraction;
  const afterChange = beforeChange - made;
  if (beforeChange < 0) {
    throw new RangeError(
      `the fresh water brings less than is used: the level before a change would be ${beforeChange}`,
    );
  }
  return { beforeChange, afterChange, mean: (beforeChange + afterChange) / 2 };
}

/** The fraction (0 to 1) to change every time so that the level just before a change settles at `ceiling`. */
export function fractionForCeiling(
  ceiling: number,
  fresh: number,
  productionPerDay: number,
  intervalDays: number,
): number {
  notNegative(productionPerDay, 'production per day');
  inRange(intervalDays, 0.01, 3650, 'interval', 'd');
  notNegative(fresh, 'concentration of the fresh water');
  if (!(ceiling > fresh))
    throw new RangeError(`the ceiling ${ceiling} must lie above the fresh water's ${fresh}`);
  const fraction = (productionPerDay * intervalDays) / (ceiling - fresh);
  if (fraction <= 1) return fraction;
  throw new RangeError(
    `even a whole change every ${intervalDays} d cannot keep the level under ${ceiling}; change more often or produce less`,
  );
}

/** What `count` (1 to 10,000) changes of a habit do, starting at `start` on day 0 with the first change one interval later. */
export function changeSeries(start: number, habit: ChangeHabit, count: number): ChangeStep[] {
  checkHabit(habit);
  wholeNumber(count, 1, 10_000, 'number of changes');
  let level = notNegative(start, 'concentration');
  return Array.from({ length: count }, (_, i) => {
    const before = Math.max(0, level + habit.productionPerDay * habit.intervalDays);
    level = before * (1 - habit.fraction) + habit.fresh * habit.fraction;
    return { day: (i + 1) * habit.intervalDays, before, after: level };
  });
}

/**
 * Production per day from two levels and what was changed between them: what the levels would differ by had nothing
 * been changed, at even production. `fractions` are the changes between, at `atDays` after the first level.
 */
export function productionPerDay(
  first: number,
  last: number,
  days: number,
  changes: readonly { day: number; fraction: number; fresh: number }[],
): number {
  inRange(days, 0.01, 3650, 'time between the levels', 'd');
  let [level, made, day] = [notNegative(first, 'first level'), 0, 0];
  for (const change of changes) {
    inRange(change.day, day, days, 'day of a change, in order', 'd');
    inRange(change.fraction, 0, 1, 'fraction changed');
    level =
      level * (1 - change.fraction) +
      notNegative(change.fresh, 'concentration of the fresh water') * change.fraction;
    made = (made + change.day - day) * (1 - change.fraction);
    day = change.day;
  }
  made += days - day;
  if (made === 0)
    throw new RangeError(
      'everything was changed at the time of the last level: the production cannot be told',
    );
  return (notNegative(last, 'last level') - level) / made;
}

function checkHabit(habit: ChangeHabit): void {
  inRange(habit.fraction, 1e-6, 1, 'fraction changed');
  inRange(habit.intervalDays, 0.01, 3650, 'interval', 'd');
  notNegative(habit.fresh, 'concentration of the fresh water');
  finite(habit.productionPerDay, 'production per day');
}

import { finite, inRange, notNegative, positive, wholeNumber } from '../numeric/range.ts';

/** A correction to be spread over days; all levels in one unit, the canonical one of the quantity. */
export interface DosingGoal {
  readonly current: number;
  readonly target: number;
  /** The most that the level may rise in a day. */
  readonly maxRisePerDay: number;
  /** What the stock uses in a day and each dose must make up as well; 0 if left out, below 0 where the level rises by itself. */
  readonly usePerDay?: number;
  /** Retest after so many doses; 2 if left out. The last dose is always followed by one. */
  readonly retestEvery?: number;
}

/** One day of a correction. */
export interface DosingStep {
  /** Days after the start; the first dose is on day 0. */
  day: number;
  /** What the dose itself raises, the day's use included. */
  rise: number;
  /** Amount in the unit of `amountPerRise`. */
  amount: number;
  /** Level expected a day after, before the next dose. */
  expectedAfter: number;
  retest: boolean;
}

/**
 * Even daily doses from the current level to the target, each raising by at most the cap, as few as that allows.
 *
 * @param amountPerRise amount (g or mL) that raises the system by one unit, above 0; e.g. `gramsForRise(..., 1, volumeL)`
 * @throws RangeError when the target lies below the level (a dose cannot lower it) or more than 366 days are needed
 * Source: none; the caps are the grower's. Common practice: 1 dKH, 20 mg/L calcium, 50 to 100 mg/L magnesium a day.
 */
export function dosingPlan(goal: DosingGoal, amountPerRise: number): DosingStep[] {
  notNegative(goal.current, 'current level');
  positive(amountPerRise, 'amount per unit of rise');
  positive(goal.maxRisePerDay, 'highest rise a day');
  if (!(goal.target >= goal.current))
    throw new RangeError(`a dose cannot bring ${goal.current} down to ${goal.target}`);
  const use = finite(goal.usePerDay ?? 0, 'use a day');
  const retestEvery = wholeNumber(goal.retestEvery ?? 2, 1, 366, 'doses between retests');
  const count = inRange(
    Math.ceil((goal.target - goal.current) / goal.maxRisePerDay - 1e-9),
    0,
    366,
    'days of the plan',
    'd',
  );
  const net = (goal.target - goal.current) / count;
  return Array.from({ length: count }, (_, i) => ({
    day: i,
    rise: net + use,
    amount: (net + use) * amountPerRise,
    expectedAfter: i === count - 1 ? goal.target : goal.current + net * (i + 1),
    retest: (i + 1) % retestEvery === 0 || i === count - 1,
  }));
}

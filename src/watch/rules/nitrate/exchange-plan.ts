import { changesToReach } from '../../../science/dilution.ts';
import { holdingSchedule } from '../../../water/nutrients/projection.rules.ts';

/** Water changes that bring a level down and hold it there. */
export interface ExchangePlan {
  /** Changes of `firstFraction` to make at once, some days apart; 0 when the level needs none. */
  firstCount: number;
  firstFraction: number;
  /** Fraction of each later change, and how many a week. */
  fraction: number;
  perWeek: number;
}

const firstFraction = 0.2;
const mostAtOnce = 4;
/** A level this near the target needs no changes of its own. */
const nearly = 1.05;

/**
 * Changes that bring the mean level to `target` and hold it there against a steady production. Null when no habit of at
 * most three changes a week does, or the make-up water holds as much as the target.
 *
 * @param makeUp level in the new water; all levels in one unit, `production` in it a day
 */
export function planExchange(input: {
  level: number;
  production: number;
  makeUp: number;
  target: number;
}): ExchangePlan | null {
  const { level, production, makeUp, target } = input;
  const habit = holdingSchedule({ production, makeUp }, target);
  if (habit === null) return null;
  const wanted = level > nearly * target ? changesToReach(level, makeUp, target, firstFraction) : 0;
  const perWeek = Math.round(7 / habit.everyDays);
  return { fraction: habit.fraction, perWeek, firstFraction, firstCount: Math.min(mostAtOnce, wanted) };
}

import { changesToReach, fractionForCeiling } from '../../science/dilution.ts';

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
/** Larger changes are hard on the stock; several smaller ones a week are asked for instead (own choice). */
const largestFraction = 0.3;
const mostAtOnce = 4;
const countsAWeek = [1, 2, 3];
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
  const { level, makeUp, target } = input;
  if (target <= makeUp) return null;
  const production = Math.max(0, input.production);
  const habits = countsAWeek.map((perWeek) => {
    const days = 7 / perWeek;
    const ceiling = target + (production * days) / 2;
    const enough = production * days <= ceiling - makeUp;
    return { perWeek, fraction: enough ? fractionForCeiling(ceiling, makeUp, production, days) : 1 };
  });
  const habit = habits.find(({ fraction }) => fraction <= largestFraction);
  if (habit === undefined) return null;
  const wanted = level > nearly * target ? changesToReach(level, makeUp, target, firstFraction) : 0;
  return { ...habit, firstFraction, firstCount: Math.min(mostAtOnce, wanted) };
}

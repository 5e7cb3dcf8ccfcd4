import {
  countToReach,
  type Habit,
  holdingHabit,
  largestChange,
  type NutrientPlan,
  type NutrientState,
  removalToReach,
} from './projection.rules.ts';

/** What is wanted of a nutrient. */
export interface NutrientAim {
  target: number;
  /** The level is to come down (export more) or up (feed more). */
  down: boolean;
}

/** Two plans to begin with; what they rest on is worked out, and every figure can be changed. */
export interface Suggestion {
  a: NutrientPlan;
  b: NutrientPlan;
}

/** Small enough for the stock and quick enough to see: own choice, as the watch advises. */
const firstSize = 0.2;
const firstEvery = 3;
const mostChanges = 15;
/** Feeding is changed by steps of a quarter, and looked at after two weeks: own choice. */
const feedingStep = 0.25;
const slowly = 42;

/** Days that plans are followed. */
export const planDays = 90;

const none = { fraction: 0, everyDays: firstEvery, count: 0 };
const still = { removed: 0, feeding: 0, dosed: 0 };

/**
 * For a level that is too high: export by water changes, or with the habit kept, by skimming and taking detritus out;
 * feeding is left as it is. For one that is too low: feed more, or change less as well.
 *
 * @param habit the changes of late
 * @param largest the largest change that the make-up water allows for alkalinity and salinity
 */
export function suggestedPlans(
  state: NutrientState,
  { target, down }: NutrientAim,
  habit: Habit,
  largest: number,
): Suggestion {
  return down ? exportPlans(state, target, habit, largest) : feedingPlans(habit);
}

function exportPlans(state: NutrientState, target: number, habit: Habit, largest: number): Suggestion {
  const fraction = Math.floor(100 * Math.min(firstSize, largest)) / 100;
  const first = { fraction, everyDays: firstEvery };
  const holding = holdingHabit(state, target) ?? {
    fraction: Math.min(largestChange, largest),
    everyDays: 3.5,
  };
  const holds = { fraction: Math.ceil(100 * holding.fraction) / 100, everyDays: holding.everyDays };
  // The saw-tooth of the habit stands around the target, so the first changes end at its foot.
  const foot = target - (Math.max(0, state.production) * holds.everyDays) / 2;
  const count = Math.min(mostChanges, countToReach(state, first, foot) ?? mostChanges);
  const changes = { first: { ...first, count }, habit: holds, ...still };
  const kept = { first: none, habit, ...still };
  const removed = removalToReach(state, kept, target, slowly);
  return { a: changes, b: { ...kept, removed } };
}

function feedingPlans(habit: Habit): Suggestion {
  const more = { ...still, feeding: feedingStep };
  return {
    a: { first: none, habit, ...more },
    b: { first: none, habit: { ...habit, everyDays: Math.min(60, 2 * habit.everyDays) }, ...more },
  };
}

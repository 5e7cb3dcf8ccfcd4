import {
  type ChangeSchedule,
  countToReach,
  holdingSchedule,
  largestChange,
  type NutrientPlan,
  type NutrientState,
  removalToReach,
  unchangedPlan,
} from './projection.rules.ts';

/** The level wanted of a nutrient. */
export interface NutrientTarget {
  target: number;
  /** The level is to come down (export more) or up (feed more). */
  down: boolean;
}

/** The two plans that a form starts with; every figure in them can be changed. */
export interface SuggestedPlans {
  a: NutrientPlan;
  b: NutrientPlan;
}

/** Size of the first changes, days between them and how many at most: small enough for the stock, quick enough to see; own choice. */
const firstSize = 0.2;
const firstEvery = 3;
const maxFirstChanges = 15;
/** Feeding is raised by a quarter at a time and looked at after two weeks; own choice. */
const feedingStep = 0.25;
/** The longest interval between water changes that is suggested, days; own choice. */
const longestInterval = 60;

/** Days within which removal beside the changes is to reach the target: six weeks, slow enough for the stock; own choice. */
export const removalDays = 42;
/** Days that plans are followed. */
export const planDays = 90;

/**
 * Two plans to start with. For a level that is too high: bring it down by water changes, or keep the present changes and
 * remove more by skimming and taking detritus out; feeding stays as it is. For one that is too low: feed more, or feed more
 * and change less.
 *
 * @param current the water changes of the last weeks
 * @param largest the largest change that the make-up water allows for alkalinity and salinity
 */
export function suggestedPlans(
  state: NutrientState,
  { target, down }: NutrientTarget,
  current: ChangeSchedule,
  largest: number,
): SuggestedPlans {
  return down ? exportPlans(state, target, current, largest) : feedingPlans(current);
}

function exportPlans(
  state: NutrientState,
  target: number,
  current: ChangeSchedule,
  largest: number,
): SuggestedPlans {
  const unchanged = unchangedPlan(current);
  const removed = removalToReach(state, unchanged, target, removalDays);
  const { first, later } = exchangePlan(state, target, largest);
  return { a: { ...unchanged, first, later }, b: { ...unchanged, removed } };
}

/** Water changes that bring a level down and hold it there. */
export interface ExchangePlan extends Pick<NutrientPlan, 'first' | 'later'> {
  /** False where no changes of at most 30 % hold it against what is made. */
  holds: boolean;
}

/**
 * The one plan of water changes for a level: the first ones bring it to the target, the later ones hold it there. Alerts
 * and pages say this one alike.
 *
 * @param largest the largest change that the make-up water allows for alkalinity and salinity
 */
export function exchangePlan(state: NutrientState, target: number, largest: number): ExchangePlan {
  const fraction = Math.floor(100 * Math.min(firstSize, largest)) / 100;
  const first = { fraction, everyDays: firstEvery };
  const holding = holdingSchedule(state, target);
  const { fraction: needed, everyDays } = holding ?? {
    fraction: Math.min(largestChange, largest),
    everyDays: 3.5,
  };
  const later = { fraction: Math.ceil(100 * needed) / 100, everyDays };
  // The level then swings around the target, so the first changes end at the low point of the swing.
  const lowPoint = target - (Math.max(0, state.production) * later.everyDays) / 2;
  const wanted = state.level <= target ? 0 : (countToReach(state, first, lowPoint) ?? maxFirstChanges);
  return { first: { ...first, count: Math.min(maxFirstChanges, wanted) }, later, holds: holding !== null };
}

function feedingPlans(current: ChangeSchedule): SuggestedPlans {
  const a = { ...unchangedPlan(current), feeding: feedingStep };
  const rarer = { ...current, everyDays: Math.min(longestInterval, 2 * current.everyDays) };
  return { a, b: { ...a, later: rarer } };
}

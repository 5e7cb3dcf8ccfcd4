import type { Comparison, ConditionState } from '../../generated/prisma/enums.ts';

/** Each state in words, in the order of the form. */
export const CONDITION_WORDS: Readonly<Record<ConditionState, string>> = {
  well: 'Well',
  paling: 'Paling',
  bleached: 'Bleached',
  receding: 'Receding',
  polyps_shut: 'Polyps shut',
  silt: 'Silt on it',
  algae: 'Algae on it',
  pest: 'Pest',
  loose: 'Loose from its mount',
  jet: 'In a jet',
  lost: 'Lost',
  other: 'Other',
};

export const CONDITION_STATES = Object.keys(CONDITION_WORDS) as [ConditionState, ...ConditionState[]];

/** How much of a lot is affected. */
export const GRADE_WORDS: Readonly<Record<1 | 2 | 3, string>> = {
  1: 'a little',
  2: 'about a third',
  3: 'most of it',
};

const UNGRADED: ReadonlySet<ConditionState> = new Set(['well', 'lost', 'loose', 'jet']);

/** True when a state has grades. */
export function isGraded(state: ConditionState): boolean {
  return !UNGRADED.has(state);
}

/** How a lot looked against the look before. "No worse" is no word of health: what was wrong still is. */
export const COMPARISON_WORDS: Readonly<Record<Comparison, string>> = {
  as_before: 'no worse',
  better: 'better',
  worse: 'worse',
};

export const COMPARISONS = Object.keys(COMPARISON_WORDS) as [Comparison, ...Comparison[]];

/** "Paling, about a third", "Paling, about a third, no worse". */
export function conditionWords(
  state: ConditionState,
  grade: number | null,
  compared: Comparison | null = null,
): string {
  const how = GRADE_WORDS[grade as 1 | 2 | 3];
  const against = compared === null ? undefined : COMPARISON_WORDS[compared];
  return [CONDITION_WORDS[state], how, against].filter((word) => word !== undefined).join(', ');
}

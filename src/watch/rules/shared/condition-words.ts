import type { ConditionState } from '../../../generated/prisma/enums.ts';

const states: Record<ConditionState, string> = {
  well: 'well',
  paling: 'paling',
  bleached: 'bleached',
  receding: 'receding',
  polyps_shut: 'polyps shut',
  silt: 'silted',
  algae: 'overgrown by algae',
  pest: 'with a pest',
  loose: 'loose',
  jet: 'in a jet',
  lost: 'lost',
  other: 'not well',
};
const grades = ['', 'a little', 'about a third', 'most of it'];

/** "paling, about a third". */
export function conditionWords({ state, grade }: { state: ConditionState; grade: number | null }): string {
  const much = grades[grade ?? 0] ?? '';
  return much === '' ? states[state] : `${states[state]}, ${much}`;
}

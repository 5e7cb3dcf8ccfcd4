import type { Evidence } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { GRADE_WORDS } from '../../../stock/base/condition-states.rules.ts';
import type { ConditionFact, LotFact } from '../../facts/types.ts';

/** Each state as it goes on in a sentence. */
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

/** "paling, about a third". */
export function conditionInSentence({ state, grade }: Pick<ConditionFact, 'state' | 'grade'>): string {
  const extent = GRADE_WORDS[grade as 1 | 2 | 3];
  return extent === undefined ? states[state] : `${states[state]}, ${extent}`;
}

/** The last look, where it shows one of these states and was taken on or after a day; else null. */
export function signSince(
  { conditions }: LotFact,
  states: readonly ConditionState[],
  day: number,
): ConditionFact | null {
  const [latest] = conditions;
  if (latest === undefined || latest.day < day) return null;
  return states.includes(latest.state) ? latest : null;
}

/** A look as evidence. */
export const lookEvidence = (look: ConditionFact): Evidence => ({
  kind: 'condition',
  id: look.id,
  at: look.at,
  text: conditionInSentence(look),
  note: look.note,
});

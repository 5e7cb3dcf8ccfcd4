import type { Evidence } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import type { ConditionFact, LotFact } from '../../facts/types.ts';
import { conditionWords } from './condition-words.ts';

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
  text: conditionWords(look),
  note: look.note,
});

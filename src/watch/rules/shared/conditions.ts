import type { Evidence } from '../../../alerts/finding.ts';
import type { ConditionState } from '../../../generated/prisma/enums.ts';
import { COMPARISON_WORDS, GRADE_WORDS } from '../../../stock/base/condition-states.rules.ts';
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

/** "paling, about a third, no worse": as it stands behind the day of a look. */
export function lookInSentence(look: ConditionFact): string {
  const said = conditionInSentence(look);
  return look.compared === null ? said : `${said}, ${COMPARISON_WORDS[look.compared]}`;
}

/** What is told of how it looks now: the note of the last look, and where that says "no worse", of the one that it goes on from. Newest first. */
export function standingNote(conditions: readonly ConditionFact[]): string {
  const said = conditions.find(({ compared, note }) => compared !== 'as_before' || note !== '');
  return said?.note ?? '';
}

/** Looks closer together than this tell no edge that moves slowly from one that stands still; own choice, days. */
const standsFor = 2;

/**
 * Whether flesh that is gone goes no further: whoever looked last saw it better or no worse, against a look of two days before at
 * least, by the looks between. What is gone takes months to come back, so that it is noted as receding long after it ended. Newest first.
 */
export function standsStill(conditions: readonly ConditionFact[]): boolean {
  const [latest] = conditions;
  if (latest?.state !== 'receding') return false;
  const moved = conditions.findIndex(
    ({ state, compared }) => state !== 'receding' || (compared !== 'better' && compared !== 'as_before'),
  );
  const from = conditions[moved === -1 ? conditions.length - 1 : moved];
  return moved !== 0 && from?.state === 'receding' && latest.day - from.day >= standsFor;
}

/** When a lot began to be unwell: the last look at which it was well (null: none on record) and the first at which it was not. */
export interface Onset {
  lastGood: ConditionFact | null;
  firstBad: ConditionFact;
}

/** The onset of the run of looks, up to the last one, at which it was not well; null where it was well. Newest first. */
export function onsetOf(conditions: readonly ConditionFact[]): Onset | null {
  const good = conditions.findIndex(({ state }) => state === 'well');
  const firstBad = conditions.slice(0, good === -1 ? undefined : good).at(-1);
  return firstBad === undefined
    ? null
    : { lastGood: good === -1 ? null : (conditions[good] ?? null), firstBad };
}

/**
 * The last look, where it shows one of these states and the first look of the run that did was taken on or after a day;
 * else null. What was seen before something happened is not its effect, though it goes on afterwards.
 */
export function signSince(
  { conditions }: Pick<LotFact, 'conditions'>,
  states: readonly ConditionState[],
  day: number,
): ConditionFact | null {
  const [latest] = conditions;
  if (latest === undefined || !states.includes(latest.state)) return null;
  const good = conditions.findIndex(({ state }) => state === 'well');
  const run = good === -1 ? conditions : conditions.slice(0, good);
  const first = run.findLast(({ state }) => states.includes(state));
  return first !== undefined && first.day >= day ? latest : null;
}

/** A look as evidence. */
export const lookEvidence = (look: ConditionFact): Evidence => ({
  kind: 'condition',
  id: look.id,
  at: look.at,
  text: lookInSentence(look),
  note: look.note,
});

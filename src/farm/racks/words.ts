import type { Base, ConditionState, Flow } from '../../generated/prisma/enums.ts';
import { type FlowChoice, flowChoices } from './flow.rules.ts';

/** Bases and flow classes as people say them. */
export const baseWords: Record<Base, string> = { egg_crate: 'egg-crate', rock: 'rock', sand: 'sand' };
export const flowWords: Record<Flow, string> = { still: 'still', low: 'low', medium: 'medium', high: 'high' };

const options = <T extends string>(words: Record<T, string>) =>
  (Object.entries(words) as [T, string][]).map(([value, text]) => ({ value, text }));

export const baseOptions = options(baseWords);

/** What can be said of the flow at one slot. */
export const flowChoiceOptions: { value: FlowChoice; text: string }[] = flowChoices.map((value) => {
  const [flow, jet] = value.split('-');
  return { value, text: jet === undefined ? value : `${flow}, jet` };
});

const stateWords: Record<ConditionState, string> = {
  well: 'well',
  paling: 'paling',
  bleached: 'bleached',
  receding: 'receding',
  polyps_shut: 'polyps shut',
  silt: 'silt on it',
  algae: 'algae',
  pest: 'pest',
  loose: 'loose',
  jet: 'in a jet',
  lost: 'lost',
  other: 'noted',
};
const gradeWords = ['', 'a little', 'a third', 'most of it'];

/** How a lot looked, short enough for a label: "paling, a third". */
export function lookWords({ state, grade }: { state: ConditionState; grade: number | null }): string {
  const much = gradeWords[grade ?? 0] ?? '';
  return much === '' ? stateWords[state] : `${stateWords[state]}, ${much}`;
}

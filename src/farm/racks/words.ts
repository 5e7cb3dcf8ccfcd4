import type { Base, Flow } from '../../generated/prisma/enums.ts';
import { type FlowChoice, flowChoices } from './flow.rules.ts';

/** Bases and flow classes as people read them. */
export const baseWords: Record<Base, string> = { egg_crate: 'egg-crate', rock: 'rock', sand: 'sand' };
export const flowWords: Record<Flow, string> = { still: 'still', low: 'low', medium: 'medium', high: 'high' };

/** The flow at a slot in a word or two; null is not known. */
export const flowText = (flow: Flow | null): string => (flow === null ? 'not known' : flowWords[flow]);

const options = <T extends string>(words: Record<T, string>) =>
  (Object.entries(words) as [T, string][]).map(([value, text]) => ({ value, text }));

export const baseOptions = options(baseWords);

/** The choices of flow for one slot. */
export const flowChoiceOptions: { value: FlowChoice; text: string }[] = flowChoices.map((value) => {
  if (value === 'unknown') return { value, text: flowText(null) };
  const [flow, jet] = value.split('-');
  return { value, text: jet === undefined ? value : `${flow}, jet` };
});

/** The flow at a lot: that of its slots, each once, from still to high; "not known" where nobody has said of any. */
export function lotFlowWords(flows: readonly (Flow | null)[]): string {
  const known = flowOrder.filter((flow) => flows.includes(flow));
  return known.length === 0 ? 'not known' : known.join(', ');
}

const flowOrder = ['still', 'low', 'medium', 'high'] as const satisfies readonly Flow[];

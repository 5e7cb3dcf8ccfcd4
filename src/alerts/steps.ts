import { type Advice, inOrder } from './advice.ts';

/** One thing to do, and what it is good to know with it; the note is '' where there is none. */
export interface Step {
  text: string;
  note: string;
}

/** What a finding asks for: `firstStep` is the text of its advice, or the only text where it has no advice. */
export interface Advised {
  advice?: readonly Advice[] | null;
  firstStep?: string;
}

/** What is to be done now as steps, in their order: each sentence of the advice is one. */
export function stepsOf({ advice, firstStep }: Advised): Step[] {
  const now = (advice ?? []).filter(({ waits }) => waits !== true);
  return now.length === 0 ? steps(firstStep ?? '', '') : inOrder(now).flatMap(stepsOfPiece);
}

/** What waits until something else is over, as steps. */
export const laterSteps = ({ advice }: Advised): Step[] =>
  inOrder((advice ?? []).filter(({ waits }) => waits === true)).flatMap(stepsOfPiece);

/** One piece of advice as steps; its note stands with the last of them. */
export const stepsOfPiece = ({ text, note }: Pick<Advice, 'text' | 'note'>): Step[] =>
  steps(text, note ?? '');

function steps(text: string, note: string): Step[] {
  const said = sentences(text);
  return said.map((sentence, i) => ({ text: sentence, note: i === said.length - 1 ? note : '' }));
}

/** A text cut at the ends of its sentences; what stands in quotation marks is left whole. */
const sentences = (text: string): string[] =>
  text.split(/(?<=[.!?]) (?=\p{Lu})(?![^“]*”)/u).filter((sentence) => sentence !== '');

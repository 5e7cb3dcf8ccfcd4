import { type Advice, correct, measure, source } from '../../../alerts/advice.ts';
import { plural } from '../../../platform/words/numbers.ts';
import { productsWords, unknownDosesOf, unknownIn } from '../../../water/demand/unknown-doses.rules.ts';
import type { SystemFacts } from '../../facts/types.ts';

/** What is dosed here and nobody has said what it raises: how many doses, and of what in words. */
export interface Unsaid {
  doses: number;
  products: string;
  /** Of how many things. */
  kinds: number;
}

export const isDosedFor = (code: string) =>
  code === 'alkalinity' || code === 'calcium' || code === 'magnesium';

/** What is dosed may be what holds another level: nothing is stopped on a guess, and nothing of it is added to. */
export const unsaidSteps = ({ doses, products, kinds }: Unsaid): Advice[] => [
  source(
    `${plural(doses, 'dose', 'doses')} of ${products} ${doses === 1 ? 'is' : 'are'} logged, and nobody has said what ${kinds === 1 ? 'it raises' : 'they raise'}. Read the label and say it on the page of doses: the use and the dose to give are known then.`,
  ),
  measure(
    'Until then raise no dose, and stop none on a guess: it may be what holds another level. Test daily.',
  ),
  correct('If its label says that it raises this, give less of it, and let the stock use it up.'),
];

/** What was dosed in the last days that may have raised a quantity, by nobody has said how much. */
export function unsaidOf(facts: SystemFacts, code: string, today: number, days: number): Unsaid {
  const found = unknownIn(unknownDosesOf(facts, code), { fromDay: today - days, toDay: today + 1 });
  return {
    doses: found.reduce((sum, { doses }) => sum + doses, 0),
    products: productsWords(found),
    kinds: found.length,
  };
}

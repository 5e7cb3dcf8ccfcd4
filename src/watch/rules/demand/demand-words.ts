import { advised, asking, down, hold, measure, optimise, source, up } from '../../../alerts/advice.ts';
import type { Finding } from '../../../alerts/finding.ts';
import { percent } from '../shared/words.ts';

/** Which way the use went. */
export type Way = 'fell' | 'rose';

/**
 * Why a use may only look changed: doses that nobody logged, products of which nobody has said what they raise, more in the
 * water than was dosed, or a doser that nobody looked into.
 */
export type Doubt = 'unlogged' | 'products' | 'more than dosed' | 'doser' | null;

/** The title of the alert: where a doser may have done it, both are named. */
export function demandTitle({ name }: { name: string }, way: Way, share: number, doubt: Doubt): string {
  if (doubt === 'unlogged') return `${name}: less alkalinity used, or doses unlogged`;
  if (doubt === 'products') return `${name}: less alkalinity used, or a product of unknown effect raises it`;
  if (doubt === 'more than dosed') return `${name}: more alkalinity goes in than is logged`;
  const change =
    way === 'fell'
      ? `alkalinity use fell by ${percent(share)}`
      : `alkalinity use rose ${percent(share)} beyond growth`;
  if (doubt === null) return `${name}: ${change}`;
  return `${name}: ${change}, or its doser gives ${way === 'fell' ? 'more' : 'less'}`;
}

const stockFirst = [
  asking('stock', measure('Look at the stock, the lamps, the temperature and the flow today.')),
  asking('test', measure('Test alkalinity again, with another kit if there is one.')),
];
const lookIn = asking('doser', measure('Look into the doser’s container today, and note its level.'));
const lowered = optimise(
  'Then lower the daily dose to the use rather than let the level climb.',
  down('dose', 'alkalinity'),
);
const raised = optimise('Then raise the daily dose by small steps.', up('dose', 'alkalinity'));
const lossesFirst = [
  asking('test', measure('Test alkalinity again.')),
  measure(
    'Look for a doser that gives too little, a leak that is topped up, or white crusts on heaters and pumps.',
  ),
];

/** Why it matters, and what to do: the doser before the corals where nobody knows what it gave. */
export function demandAdvice(way: Way, doubt: Doubt): Pick<Finding, 'why'> & ReturnType<typeof advised> {
  if (doubt === 'more than dosed')
    return {
      why: 'The level rises by more than all that was logged. Stock cannot do that: a doser that does not stop, a dose that nobody wrote down, or a stronger solution does.',
      ...advised(
        source(
          'Stop the doser of alkalinity until its container was looked into.',
          hold('dose', 'alkalinity'),
        ),
        lookIn,
      ),
    };
  if (doubt === 'products')
    return {
      why: 'Either the stock uses less, or a product is dosed that raises alkalinity and of which nobody has said so.',
      ...advised(...stockFirst),
    };
  if (doubt === 'doser' && way === 'fell')
    return {
      why: 'Either the stock uses less, or the doser gives more than it is set to. What went out of its container tells which.',
      ...advised(lookIn, ...stockFirst, lowered),
    };
  if (doubt === 'doser')
    return {
      why: 'Either more is used than growth explains, or the doser gives less than it is set to. What went out of its container tells which.',
      ...advised(lookIn, ...lossesFirst, raised),
    };
  if (way === 'fell')
    return {
      why: 'Stock that builds skeleton slower uses less: a fall often shows stress before any piece pales. With the doses as before, alkalinity will rise.',
      ...advised(...stockFirst, lowered),
    };
  return {
    why: 'More is used than growth explains. With the doses as before, alkalinity will fall.',
    ...advised(...lossesFirst, raised),
  };
}

/** What only people know of it; `left`: the part of the stock that the ledger says was sold or lost since; `products`: what is dosed with an unknown effect. */
export function demandQuestion(way: Way, doubt: Doubt, left: number, products = ''): string {
  if (doubt === 'products')
    return `Does ${products} raise alkalinity? Say on the page of doses what it raises: until then what it brings counts as less use.`;
  if (doubt === 'unlogged' || doubt === 'more than dosed')
    return 'Were doses given that nobody logged? Log them: the use is worked out from the doses.';
  if (way === 'rose') return 'Was stock added, or are water changes missing in the log?';
  return left > 0
    ? 'Was more sold or moved out than the ledger says? Then it uses less by right.'
    : 'Was stock sold or moved out of this water? Then it uses less by right.';
}

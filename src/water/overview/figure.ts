import { boundMark, type Quantity, show } from '../quantities/quantities.ts';
import { lastFigure, valueShown } from '../readings/last-value.rules.ts';
import type { Overview } from './overview.ts';

/** The latest reading of one quantity. */
type Latest = NonNullable<ReturnType<NonNullable<ReturnType<Overview['latest']['get']>>['get']>>;

/** The last value of a quantity as a cell of the list takes it; `text` is null where it was never read. */
export function figureOf(quantity: Quantity, last: Latest | undefined, untrusted = '') {
  if (last === undefined)
    return {
      untrusted,
      figures: [],
      code: quantity.code,
      name: quantity.name,
      text: null,
      unit: '',
      at: null,
      unconfirmed: false,
      asRead: null,
    };
  const { text, unit } = show(quantity, valueShown(last));
  return {
    untrusted,
    figures: [lastFigure(quantity, last, `${boundMark(last)}${text}`)],
    code: quantity.code,
    name: quantity.name,
    text: `${boundMark(last)}${text}`,
    unit,
    at: last.at,
    unconfirmed: last.trust === 'unconfirmed',
    asRead: last.corrected === null ? null : show(quantity, last.value).text,
  };
}

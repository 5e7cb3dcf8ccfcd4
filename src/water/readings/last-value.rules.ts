import type { Figure } from '../../platform/words/figures.ts';
import { boundMark, type DisplayQuantity, say, sayReading } from '../quantities/quantities.ts';

/** The newest standing reading of a quantity in a system: as read, and without the bias of a kit known to read wrong. */
export interface LastValue {
  systemId: string;
  value: number;
  below: boolean;
  above: boolean;
  corrected?: { value: number } | null;
}

/** What is shown of it: the value without its kit's bias. */
export const valueShown = ({ value, corrected }: Pick<LastValue, 'value' | 'corrected'>): number =>
  corrected?.value ?? value;

/** The last value of a quantity, as every page says it. `text`: its words there; "8.3 dKH" unless it is written otherwise. */
export function lastFigure(
  quantity: DisplayQuantity,
  last: LastValue,
  text: string = sayReading(quantity, { ...last, value: valueShown(last) }),
): Figure {
  const value = `${boundMark(last)}${say(quantity, valueShown(last))}`;
  return { name: `${quantity.code}.last`, of: last.systemId, value, text };
}

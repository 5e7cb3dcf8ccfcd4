import { canonicalUnit, convertDifference, isQuantityCode } from '../../science/units.ts';
import { hasMarks, marked, strayMarks } from './kept-words.ts';
import {
  gramsWords,
  lengthsWords,
  lengthWords,
  litres,
  litresNoted,
  mmWords,
  sizeWords,
} from './measures.ts';
import { type DisplayQuantity, show, showDifference, type ValueParts } from './quantity-words.ts';
import { displayNow } from './reader-quantities.ts';
import { canonicalUnits, inUnits, unitsNow } from './units.ts';

const measures: Readonly<Record<string, (...values: number[]) => string>> = {
  litres,
  litre: (value) => (unitsNow().volume === 'L' ? '1 litre' : litres(value)),
  noted: litresNoted,
  length: lengthWords,
  lengths: lengthsWords,
  size: sizeWords,
  small: mmWords,
  grams: gramsWords,
};

/** Kept words with their figures in the units of whoever reads. */
export const readerWords = (text: string): string =>
  hasMarks(text)
    ? text.replace(marked, (_, made: string, words: string) => figure(made, words)).replace(strayMarks, '')
    : text;

/** Kept words as they were made, in the units of the farm: for programs and files. */
export const farmWords = (text: string): string =>
  hasMarks(text) ? text.replace(marked, '$2').replace(strayMarks, '') : text;

function figure(made: string, words: string): string {
  const [kind = '', ...parts] = made.split('|');
  const measure = measures[kind];
  // Said again outside of what is kept, or it would be marked anew.
  if (measure !== undefined) return inUnits(unitsNow(), () => measure(...parts.map(Number)));
  const [code = '', displayUnit = '', decimals, value, at] = parts;
  if (!isQuantityCode(code)) return words;
  const quantity = { code, canonicalUnit: canonicalUnit(code), displayUnit, decimals: Number(decimals) };
  const readers = displayNow(quantity);
  if (readers.displayUnit === displayUnit) return words;
  const said: ValueParts = inUnits(canonicalUnits, () =>
    kind.startsWith('value') ? show(readers, Number(value)) : stepThere(readers, Number(value), Number(at)),
  );
  return kind.endsWith('-unit') ? said.unit : said.text;
}

/** A step keeps so many digits that it stays what it is: 1 °C is 1.8 °F, not 2. */
function stepThere(quantity: DisplayQuantity, step: number, at: number): ValueParts {
  const { code, canonicalUnit: from, displayUnit, decimals } = quantity;
  const value = Math.abs(convertDifference(code, step, from, displayUnit, at));
  const told = [0, 1, 2].find((more) => {
    const digit = 10 ** (decimals + more);
    return Math.abs(Math.round(value * digit) / digit - value) <= 0.03 * value;
  });
  return showDifference({ ...quantity, decimals: decimals + (told ?? 2) }, step, at);
}

/** Every text of a kept piece of JSON by {@link readerWords}. */
export function readersJson<T>(kept: T): T {
  if (typeof kept === 'string') return readerWords(kept) as T;
  if (Array.isArray(kept)) return kept.map(readersJson) as T;
  if (kept === null || typeof kept !== 'object' || kept instanceof Date) return kept;
  return Object.fromEntries(Object.entries(kept).map(([key, value]) => [key, readersJson(value)])) as T;
}

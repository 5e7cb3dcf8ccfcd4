import { litresNoted } from '../../platform/units/measures.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { plainName } from '../kinds/kind-names.rules.ts';
import type { NewTreatment } from './treatments.schema.ts';

/** Twice within so many days is asked about (own choice: a label that wants it says so). */
const APART_DAYS = 1;

/** How a treatment departs from what was typed of its label; '' where it does not. */
export function againstLabel(
  { product, doseALitre, doseUnit, labelLow, labelHigh, at }: NewTreatment,
  before: readonly { at: Date; product: string }[],
): string {
  const said = (value: number) => `${numberWords(value)} ${doseUnit} a litre`;
  if (doseALitre !== null && labelHigh !== null && doseALitre > labelHigh)
    return `The label says at most ${said(labelHigh)}, and this is ${said(doseALitre)}.`;
  if (doseALitre !== null && labelLow !== null && doseALitre < labelLow)
    return `The label says at least ${said(labelLow)}, and this is ${said(doseALitre)}.`;
  const again = before.some(
    (one) =>
      one.product.toLowerCase() === product.toLowerCase() && Math.abs(daysBetween(one.at, at)) < APART_DAYS,
  );
  return again ? `${product} was given within the last day already.` : '';
}

/** A lot in a bath, by all names it goes by. */
export interface BathedLot {
  code: string;
  names: readonly string[];
}

/** Which lots in the bath are named among what must not be treated; '' where none is. */
export function againstNotFor(notFor: string, lots: readonly BathedLot[]): string {
  const said = ` ${plainName(notFor)} `;
  const named = lots.flatMap(({ code, names }) => {
    const name = names.find((one) => plainName(one) !== '' && said.includes(` ${plainName(one)} `));
    return name === undefined ? [] : [`${code} (${name})`];
  });
  return named.length === 0 ? '' : `Not to be treated, by its label: ${named.join(', ')}.`;
}

/** "12 mL in 4 L": all of it, where the label names its active substance; '' where nothing can be computed. */
export function totalWords(one: {
  substance: string;
  doseALitre: number | null;
  doseUnit: string;
  litres: number | null;
}): string {
  const { substance, doseALitre, doseUnit, litres } = one;
  if (doseALitre === null) return 'nothing dosed';
  const each = `${numberWords(doseALitre)} ${doseUnit} a litre`;
  return substance === '' || litres === null
    ? each
    : `${each}, ${numberWords(doseALitre * litres)} ${doseUnit} in ${litresNoted(litres)}`;
}

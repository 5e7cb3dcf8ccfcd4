import {
  type DosedQuantity,
  type Rise,
  riseFromGrams,
  riseFromMillilitres,
  type Solution,
  SUBSTANCES,
  type Substance,
  type SubstanceCode,
  saturatedLimewater,
  solutionOf,
} from '../../science/dosing.ts';
import { convertMeasure } from '../../science/units.ts';

/** What a dose raises, and by how much in the system's volume (canonical unit; below 0 where it lowers). */
export interface DoseEffect {
  quantityCode: string;
  rise: number;
}

const byName: readonly (readonly [SubstanceCode, Substance])[] = (Object.keys(SUBSTANCES) as SubstanceCode[])
  .map((code): [SubstanceCode, Substance] => [code, SUBSTANCES[code]])
  .sort(([, a], [, b]) => b.name.length - a.name.length);

const limewater = 'saturated limewater';
/** Limewater is taken to have stood at room temperature; colder it holds a little more. */
const limewaterDegC = 25;

/** Names whose effect is computed, for the list beneath the field. */
export const computedSubstances: readonly string[] = [
  ...byName.map(([, { name }]) => name).sort(),
  limewater,
];

/** The first of these that a substance raises is what the dose is logged for. */
const order: readonly DosedQuantity[] = ['alkalinity', 'calcium', 'magnesium'];

/**
 * What a dose raises, where its words say enough: a dry substance by weight ("sodium bicarbonate", 50 g), a solution
 * of stated strength by volume ("soda, 1 meq/mL", "40 mg/mL Ca", "sodium carbonate 50 g/L"), saturated limewater.
 * Null otherwise: nothing is guessed.
 */
export function effectOfDose(
  substance: string,
  amount: number,
  unit: string,
  volumeL: number,
): DoseEffect | null {
  const grams = massOf(amount, unit);
  const name = substance.trim().toLowerCase();
  if (grams !== null) {
    const dry = byName.find(([, known]) => known.name === name || known.formula.toLowerCase() === name);
    return dry === undefined ? null : mainOf(riseFromGrams(dry[0], grams, volumeL));
  }
  const millilitres = volumeOf(amount, unit);
  const solution = millilitres === null ? null : solutionNamed(substance);
  return solution === null || millilitres === null
    ? null
    : mainOf(riseFromMillilitres(solution, millilitres, volumeL));
}

const massOf = (amount: number, unit: string) =>
  unit === 'g' || unit === 'kg' ? convertMeasure('mass', amount, unit, 'g') : null;
const volumeOf = (amount: number, unit: string) =>
  unit === 'mL' || unit === 'L' ? convertMeasure('volume', amount, unit, 'mL') : null;

const stated = /(\d+(?:[.,]\d+)?)\s*(meq|mg)\s*\/\s*(mL|L)\b(?:\s*(Ca|Mg)\b)?/i;
const mixed = /(\d+(?:[.,]\d+)?)\s*g\s*\/\s*L\b/i;

function solutionNamed(words: string): Solution | null {
  if (words.trim().toLowerCase() === limewater) return saturatedLimewater(limewaterDegC);
  const strength = stated.exec(words);
  if (strength !== null) return solutionStated(strength);
  const gramsPerL = Number((mixed.exec(words)?.[1] ?? '').replace(',', '.'));
  const dissolved = byName.find(([, { name }]) => words.toLowerCase().includes(name));
  const sensible = gramsPerL > 0 && gramsPerL <= 1000;
  return dissolved === undefined || !sensible ? null : solutionOf(dissolved[0], gramsPerL);
}

function solutionStated([
  ,
  figure = '',
  measure = '',
  per = '',
  metal = '',
]: RegExpExecArray): Solution | null {
  const perMl = Number(figure.replace(',', '.')) / (per.toLowerCase() === 'l' ? 1000 : 1);
  if (measure.toLowerCase() === 'meq') return { perMl: { alkalinity: perMl } };
  if (metal === '') return null;
  return { perMl: { [metal.toLowerCase() === 'ca' ? 'calcium' : 'magnesium']: perMl } };
}

function mainOf(rise: Rise): DoseEffect | null {
  const quantityCode = order.find((quantity) => rise[quantity] !== undefined);
  return quantityCode === undefined ? null : { quantityCode, rise: rise[quantityCode] ?? 0 };
}

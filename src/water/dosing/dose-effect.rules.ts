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

/** The longest name first, so that a name within another is not found in its place. */
const longestNameFirst: readonly (readonly [SubstanceCode, Substance])[] = (
  Object.keys(SUBSTANCES) as SubstanceCode[]
)
  .map((code): [SubstanceCode, Substance] => [code, SUBSTANCES[code]])
  .sort(([, a], [, b]) => b.name.length - a.name.length);

const limewater = 'saturated limewater';
/** Limewater is taken to be at room temperature; colder it holds a little more. Own choice. */
const limewaterDegC = 25;

/** The substances whose effect can be computed: suggestions for the form. */
export const computedSubstances: readonly string[] = [
  ...longestNameFirst.map(([, { name }]) => name).sort(),
  limewater,
];

/** A dose is logged for the first of these that it raises. */
const loggedFirst: readonly DosedQuantity[] = ['alkalinity', 'calcium', 'magnesium'];

/**
 * What a dose raises, where its words and unit say enough: a dry substance by weight ("sodium bicarbonate", 50 g), a solution
 * of stated strength by volume ("soda, 1 meq/mL", "40 mg/mL Ca", "sodium carbonate 50 g/L"), saturated limewater.
 * Null otherwise: nothing is guessed.
 *
 * @param volumeL volume of the system
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
    const dry = longestNameFirst.find(
      ([, known]) => known.name === name || known.formula.toLowerCase() === name,
    );
    return dry === undefined ? null : loggedEffect(riseFromGrams(dry[0], grams, volumeL));
  }
  const millilitres = volumeOf(amount, unit);
  const solution = millilitres === null ? null : solutionNamed(substance);
  return solution === null || millilitres === null
    ? null
    : loggedEffect(riseFromMillilitres(solution, millilitres, volumeL));
}

/**
 * The most that a dose can raise where its words name limewater and no strength: what it would as saturated limewater.
 * Null where nothing bounds it.
 */
export function mostOfDose(
  substance: string,
  amount: number,
  unit: string,
  volumeL: number,
): DoseEffect | null {
  const millilitres = volumeOf(amount, unit);
  if (millilitres === null || !/\blimewater\b/i.test(substance)) return null;
  return loggedEffect(riseFromMillilitres(saturatedLimewater(limewaterDegC), millilitres, volumeL));
}

const massOf = (amount: number, unit: string) =>
  unit === 'g' || unit === 'kg' ? convertMeasure('mass', amount, unit, 'g') : null;
const volumeOf = (amount: number, unit: string) =>
  unit === 'mL' || unit === 'L' ? convertMeasure('volume', amount, unit, 'mL') : null;

/** "1 meq/mL", "40 mg/mL Ca". */
const strengthPattern = /(\d+(?:[.,]\d+)?)\s*(meq|mg)\s*\/\s*(mL|L)\b(?:\s*(Ca|Mg)\b)?/i;
/** "50 g/L". */
const gramsPerLitrePattern = /(\d+(?:[.,]\d+)?)\s*g\s*\/\s*L\b/i;

function solutionNamed(words: string): Solution | null {
  if (words.trim().toLowerCase() === limewater) return saturatedLimewater(limewaterDegC);
  const strength = strengthPattern.exec(words);
  if (strength !== null) return solutionOfStrength(strength);
  const gramsPerL = Number((gramsPerLitrePattern.exec(words)?.[1] ?? '').replace(',', '.'));
  const dissolved = longestNameFirst.find(([, { name }]) => words.toLowerCase().includes(name));
  const sensible = gramsPerL > 0 && gramsPerL <= 1000;
  return dissolved === undefined || !sensible ? null : solutionOf(dissolved[0], gramsPerL);
}

function solutionOfStrength([
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

function loggedEffect(rise: Rise): DoseEffect | null {
  const quantityCode = loggedFirst.find((quantity) => rise[quantity] !== undefined);
  return quantityCode === undefined ? null : { quantityCode, rise: rise[quantityCode] ?? 0 };
}

import {
  type DosedQuantity,
  limeWords,
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
    const dry = longestNameFirst.find(([, known]) => isCalled(known, name));
    return dry === undefined ? null : loggedEffect(riseFromGrams(dry[0], grams, volumeL));
  }
  const millilitres = volumeOf(amount, unit);
  const solution = millilitres === null ? null : solutionNamed(substance);
  return solution === null || millilitres === null
    ? null
    : loggedEffect(riseFromMillilitres(solution, millilitres, volumeL));
}

const isCalled = ({ name, otherNames, formula }: Substance, words: string): boolean =>
  [name, ...otherNames, formula.toLowerCase()].includes(words);

/** What a dose can raise at most, and as what: "Saturated". */
interface MostEffect extends DoseEffect {
  as: string;
}

/** Dry substances that are sold with and without water in them, under one name. */
const driest: readonly { words: RegExp; code: SubstanceCode; as: string }[] = [
  { words: /^calcium chloride$/, code: 'calcium-chloride', as: 'Free of water' },
  { words: /^(washing soda|soda)$/, code: 'sodium-carbonate', as: 'Free of water' },
  { words: limeWords, code: 'calcium-hydroxide', as: 'As pure calcium hydroxide' },
];

/**
 * The most that a dose can raise where its words bound it although they do not say its strength: limewater as saturated, a salt
 * that is sold with and without water as free of it. Null where nothing bounds it.
 */
export function mostOfDose(
  substance: string,
  amount: number,
  unit: string,
  volumeL: number,
): MostEffect | null {
  const millilitres = volumeOf(amount, unit);
  const perL = gramsPerLitre(substance);
  const grams = massOf(amount, unit) ?? (perL === null ? null : ((millilitres ?? 0) * perL) / 1000);
  const dry = driest.find(({ words }) => words.test(nameOf(substance)));
  if (millilitres !== null && limeWords.test(substance))
    return boundedBy(
      riseFromMillilitres(saturatedLimewater(limewaterDegC), millilitres, volumeL),
      'Saturated',
    );
  return grams === null || dry === undefined
    ? null
    : boundedBy(riseFromGrams(dry.code, grams, volumeL), dry.as);
}

/** The name before its strength: "calcium chloride" of "Calcium chloride, 100 g/L". */
const nameOf = (words: string) =>
  words
    .replace(/,?\s*\d.*$/, '')
    .trim()
    .toLowerCase();

function boundedBy(rise: Rise, as: string): MostEffect | null {
  const effect = loggedEffect(rise);
  return effect === null ? null : { ...effect, as };
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
  if (/^saturated (lime\s?water|kalkwasser)$/i.test(words.trim())) return saturatedLimewater(limewaterDegC);
  const strength = strengthPattern.exec(words);
  if (strength !== null) return solutionOfStrength(strength);
  const gramsPerL = gramsPerLitre(words);
  const dissolved = longestNameFirst.find(([, { name, otherNames }]) =>
    [name, ...otherNames].some((one) => words.toLowerCase().includes(one)),
  );
  return dissolved === undefined || gramsPerL === null ? null : solutionOf(dissolved[0], gramsPerL);
}

/** What is written as dissolved in a litre; null where nothing is, or more than dissolves. */
function gramsPerLitre(words: string): number | null {
  const gramsPerL = Number((gramsPerLitrePattern.exec(words)?.[1] ?? '').replace(',', '.'));
  return gramsPerL > 0 && gramsPerL <= 1000 ? gramsPerL : null;
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

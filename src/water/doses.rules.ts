import { convertMeasure } from '../science/units.ts';

/** What a dose raises, by the words on its bottle or the quantity and rise the person states. */
export interface DoseEffect {
  quantityCode: string;
  /** Rise of the quantity in the system's volume, canonical unit. */
  rise: number;
}

const strength = /(\d+(?:[.,]\d+)?)\s*(meq|mg)\s*\/\s*(mL|L)\b(?:\s*(Ca|Mg|NO3|PO4))?/i;
const raised: Readonly<Record<string, string>> = {
  meq: 'alkalinity',
  ca: 'calcium',
  mg: 'magnesium',
  no3: 'nitrate',
  po4: 'phosphate',
};
const volumes: Readonly<Record<string, string>> = { mL: 'mL', L: 'L' };

/**
 * The effect of a solution whose name states its strength ("1 meq/mL", "40 mg/mL Ca"), in a system of `volumeL`
 * litres; null when it does not, or the amount is no volume. Rise = amount x strength / volume.
 */
export function effectOfSolution(
  substance: string,
  amount: number,
  unit: string,
  volumeL: number,
): DoseEffect | null {
  const stated = strength.exec(substance);
  const volumeUnit = volumes[unit];
  if (stated === null || volumeUnit === undefined) return null;
  const [, figure = '', measure = '', per = '', of = ''] = stated;
  const quantityCode = raised[measure.toLowerCase() === 'meq' ? 'meq' : of.toLowerCase()];
  if (quantityCode === undefined) return null;
  const perL = Number(figure.replace(',', '.')) * (per.toLowerCase() === 'ml' ? 1000 : 1);
  return { quantityCode, rise: (perL * convertMeasure('volume', amount, volumeUnit, 'L')) / volumeL };
}

/** What a dose raises and by how much, where that can be computed. */
export function effectOfDose(
  substance: string,
  amount: number,
  unit: string,
  volumeL: number,
): DoseEffect | null {
  return effectOfSolution(substance, amount, unit, volumeL);
}

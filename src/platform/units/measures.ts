import { convertMeasure } from '../../science/units.ts';
import { inputNumber, numberWords } from '../words/numbers.ts';
import { unitsNow, unitText } from './units.ts';

// The one place where volumes, lengths and masses become text in the units of whoever reads, and numbers in an input
// become canonical again (litres, millimetres, grams). Factors: src/science/units/measures.ts.

const gallons = (volumeL: number): number => convertMeasure('volume', volumeL, 'L', unitsNow().volume);
const inches = (mm: number): number => convertMeasure('length', mm, 'mm', unitsNow().length);
const ounces = (g: number): number => convertMeasure('mass', g, 'g', unitsNow().mass);

/** The units as they are written beside a field or a number. */
export const unitNames = () => {
  const { volume, length, mass } = unitsNow();
  return { volume: unitText(volume), length: unitText(length), mass: unitText(mass) };
};

/** "1,840 L", "12.5 L", "486 US gal". */
export function litres(volumeL: number): string {
  const value = gallons(volumeL);
  return `${numberWords(value, value < 100 && !isWhole(value) ? 1 : 0)} ${unitNames().volume}`;
}

/** An amount as it was noted, with all its digits that count: "0.25 L", "2.5 US gal". */
export const litresNoted = (volumeL: number): string =>
  `${numberWords(Number(gallons(volumeL).toPrecision(4)))} ${unitNames().volume}`;

/** A length of things that are built, in whole millimetres: "122 cm", "48 in". */
export const lengthWords = (mm: number): string => `${lengthNumber(mm)} ${unitNames().length}`;

/** Sides of one thing: "200 × 80 × 40 cm". */
export const sizeWords = (...mm: readonly number[]): string =>
  `${mm.map(lengthNumber).join(' × ')} ${unitNames().length}`;

/** To a millimetre, or a twentieth of an inch, which is about one. */
function lengthNumber(mm: number): string {
  const value = inches(mm);
  return unitsNow().length === 'cm'
    ? numberWords(value)
    : numberWords(Math.round(value * 20) / 20, isWhole(value) ? 0 : undefined);
}

/** "12 g", "0.42 oz". */
export function gramsWords(g: number): string {
  const value = unitsNow().mass === 'g' ? g : Number(ounces(g).toPrecision(3));
  return `${numberWords(value)} ${unitNames().mass}`;
}

/** True for what is whole but for the noise of binary fractions. */
const isWhole = (value: number): boolean =>
  Math.abs(value - Math.round(value)) < 1e-9 * Math.max(1, Math.abs(value));

/** Decimals of a number in an input: four digits in all, and one at least. */
const decimalsOf = (value: number): number =>
  Math.min(3, Math.max(1, 4 - Math.max(1, Math.ceil(Math.log10(Math.abs(value) + 1e-9)))));

/** A volume as it stands in an input, in the unit of whoever reads; "" for none. */
export const inputLitres = (volumeL: number | null): string =>
  volumeL === null ? '' : inputNumber(gallons(volumeL), decimalsOf(gallons(volumeL)));

/** A length as it stands in an input; "" for none. */
export const inputLength = (mm: number | null): string =>
  mm === null
    ? ''
    : unitsNow().length === 'cm'
      ? inputNumber(mm / 10, 1)
      : inputNumber(Math.round(inches(mm) * 20) / 20, 2);

/** What was typed for a volume, in litres. Give what stood there: unchanged on the form, it stays to the last digit. */
export const keptLitres = (before: number | null, typed: number): number =>
  before !== null && inputLitres(before) === inputLitres(typed) ? before : typed;

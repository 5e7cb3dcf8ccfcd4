import { convertMeasure } from '../../science/units.ts';
import { inputNumber, numberWords } from '../words/numbers.ts';
import { figureKept } from './kept-words.ts';
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

/** The unit of volumes as a choice beside a number: "litres", "US gal". */
export const volumeInWords = (): string => (unitsNow().volume === 'L' ? 'litres' : unitNames().volume);

/** "1,840 L", "12.5 L", "486 US gal". */
export const litres = (volumeL: number): string => figureKept(litresNow(volumeL), 'litres', volumeL);

function litresNow(volumeL: number): string {
  const value = gallons(volumeL);
  return `${numberWords(value, value < 100 && !isWhole(value) ? 1 : 0)} ${unitNames().volume}`;
}

/** An amount as it was noted, with all its digits that count: "0.25 L", "2.5 US gal". */
export const litresNoted = (volumeL: number): string =>
  figureKept(
    `${numberWords(Number(gallons(volumeL).toPrecision(4)))} ${unitNames().volume}`,
    'noted',
    volumeL,
  );

/** A length of things that are built, in whole millimetres: "122 cm", "48 in". */
export const lengthWords = (mm: number): string =>
  figureKept(`${lengthNumber(mm)} ${unitNames().length}`, 'length', mm);

/** From one length to another: "1 to 2 cm". */
export const lengthsWords = (fromMm: number, toMm: number): string =>
  `${lengthNumber(fromMm)} to ${lengthNumber(toMm)} ${unitNames().length}`;

/** A small length, such as that of a piece, in millimetres or to a twentieth of an inch: "35 mm", "1.4 in". */
export const mmWords = (mm: number): string =>
  figureKept(
    unitsNow().length === 'cm' ? `${numberWords(mm, 0)} mm` : `${lengthNumber(mm)} ${unitNames().length}`,
    'small',
    mm,
  );

/** A length on paper as a number: to a tenth of a millimetre, or a thousandth of an inch as makers of label sheets state it. */
const paperNumber = (mm: number): string => {
  const isMetric = unitsNow().length === 'cm';
  return numberWords(Number((isMetric ? mm : inches(mm)).toFixed(isMetric ? 1 : 3)));
};

/** Sides of a page or a label: "70 x 37 mm", "2.625 x 1 in". */
export const paperWords = (...mm: readonly number[]): string =>
  `${mm.map(paperNumber).join(' x ')} ${smallUnit()}`;

/** A length on paper as it stands in an input; "" for none. */
export const inputPaper = (mm: number | null): string =>
  mm === null ? '' : unitsNow().length === 'cm' ? inputNumber(mm, 1) : inputNumber(inches(mm), 3);

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

/** "12 g", "0.42 oz"; from 1,000 g in kg, from 16 oz in lb. */
export const gramsWords = (g: number): string => figureKept(gramsNow(g), 'grams', g);

function gramsNow(g: number): string {
  const isMetric = unitsNow().mass === 'g';
  const whole = isMetric ? 1000 : 16;
  const value = isMetric ? g : ounces(g);
  const [amount, unit] = value >= whole ? [value / whole, isMetric ? 'kg' : 'lb'] : [value, unitNames().mass];
  return `${numberWords(unit === 'g' ? amount : Number(amount.toPrecision(unit === 'kg' ? 4 : 3)))} ${unit}`;
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

/** The unit of small lengths, as it stands beside a field: "mm", "in". */
export const smallUnit = (): string => (unitsNow().length === 'cm' ? 'mm' : unitNames().length);

/** A small length as it stands in an input; "" for none. */
export const inputSmall = (mm: number | null): string =>
  mm === null || unitsNow().length === 'cm' ? inputNumber(mm, 0) : inputLength(mm);

/** What was typed for a volume, in litres. Give what stood there: unchanged on the form, it stays to the last digit. */
export const keptLitres = (before: number | null, typed: number): number =>
  before !== null && inputLitres(before) === inputLitres(typed) ? before : typed;

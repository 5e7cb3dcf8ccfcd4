import { readNumber } from '../../science/units.ts';
import { normalizeName } from '../file/names.rules.ts';
import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  questionId,
  refusedBecause,
} from '../file/questions.rules.ts';
import { aboutFigure } from '../file/sheet-shape.rules.ts';
import type { LogColumn } from './columns.rules.ts';
import type { Cells, LogReader } from './log-reader.rules.ts';

/** A number with its unit's text; '' where none is written. */
interface WrittenAmount {
  value: number;
  unit: string;
}

/** A number above 0 with what stands behind it: "50 mL". One mark before three digits is asked about, once. */
export function writtenAmount(reader: LogReader, cells: Cells, column: LogColumn): WrittenAmount | NotTaken {
  const text = cells.text(column);
  const about = aboutFigure(text);
  const [, figure = '', unit = ''] =
    /^([+\-−]?[\d.,'’ ]*\d)\s*(m3|[^\d]*)$/.exec((about ?? text).trim()) ?? [];
  const read = readNumber(figure);
  if (read.kind === 'unreadable')
    return refusedBecause(`“${text}” is not an amount. Write a number, like 12.5.`);
  const value = read.kind === 'number' ? read.value : asMarked(reader, cells, text, read);
  if (typeof value !== 'number') return value;
  if (!(value > 0 && value <= 1e7)) return refusedBecause(`“${text}” is not an amount above 0.`);
  const answer = about === null ? 'take' : reader.questions.ask('about', cells.row, askOfAbout, `“${text}”`);
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  const said = unit.trim() || unitText(cells, column);
  return /^m[3³]$/i.test(said) ? { value: value * 1000, unit: 'L' } : { value, unit: said };
}

const askOfAbout = () => ({
  text: 'Some amounts are said to be about so much. What is logged?',
  hint: 'A log keeps one number.',
  choices: [{ value: 'take', text: 'The number written' }, leaveOutChoice],
});

const unitText = (cells: Cells, column: LogColumn) => cells.text('unit') || cells.headUnit(column);

function asMarked(
  { questions, decimalMark }: LogReader,
  { row }: Cells,
  text: string,
  { decimal, thousands, separator }: { decimal: number; thousands: number; separator: '.' | ',' },
): number | NotTaken {
  if (decimalMark !== null) return decimalMark === separator ? decimal : thousands;
  const answer = questions.ask(
    questionId('mark', separator),
    row,
    () => ({
      text: `“${text}”: ${thousands} or ${decimal}?`,
      hint: 'No other amount of the file shows which mark is the decimal one.',
      choices: [
        { value: 'thousands', text: `${thousands}: the mark separates thousands` },
        { value: 'decimal', text: `${decimal}: it is the decimal mark` },
        leaveOutChoice,
      ],
    }),
    `“${text}”`,
  );
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  return answer === 'decimal' ? decimal : thousands;
}

/** Units as people write them, without marks and in lower case. */
const spellings: Readonly<Record<string, string>> = {
  ...spelled('mL', 'ml', 'milliliter', 'milliliters', 'millilitre', 'millilitres', 'cc'),
  ...spelled('L', 'l', 'liter', 'liters', 'litre', 'litres', 'ltr'),
  ...spelled('g', 'g', 'gr', 'gram', 'grams', 'gramme', 'grammes'),
  ...spelled('kg', 'kg', 'kilo', 'kilos', 'kilogram', 'kilograms'),
  ...spelled('mg', 'mg', 'milligram', 'milligrams'),
  ...spelled('drops', 'drop', 'drops'),
  ...spelled('gal (US)', 'galus', 'usgal', 'usgallon', 'usgallons'),
  ...spelled('gal (UK)', 'galuk', 'ukgal', 'imperialgallon', 'imperialgallons', 'impgal'),
  ...spelled('fl oz (US)', 'floz', 'flozus', 'fluidounce', 'fluidounces'),
  ...spelled('lb', 'lb', 'lbs', 'pound', 'pounds'),
  ...spelled('%', 'percent', 'pct', 'percentofthesystem'),
};

function spelled(unit: string, ...words: string[]): Record<string, string> {
  return Object.fromEntries(words.map((word) => [word, unit]));
}

const unitNames: Readonly<Record<string, string>> = {
  mL: 'millilitres',
  L: 'litres',
  g: 'grams',
  kg: 'kilograms',
  mg: 'milligrams',
  oz: 'ounces of weight',
  lb: 'pounds',
  drops: 'drops',
  'gal (US)': 'US gallons',
  'gal (UK)': 'imperial gallons',
  'fl oz (US)': 'US fluid ounces',
  '%': 'per cent of the system',
};

/**
 * Which of `units` a text means. A missing one, a gallon or an ounce that could be two is asked about, once for all of
 * `about` ('' for the whole file); nothing is guessed.
 */
export function unitOf(
  { questions }: LogReader,
  { row, text }: Cells,
  { written, units, about }: { written: string; units: readonly string[]; about: string },
): { unit: string } | NotTaken {
  const known = written.trim() === '%' ? '%' : spellings[normalizeName(written)];
  if (known !== undefined && units.includes(known)) return { unit: known };
  const answer = questions.ask(
    questionId('unit', written, about),
    row,
    () => ({
      text:
        written === ''
          ? `In what are amounts like “${text('amount')}”${about === '' ? '' : ` of ${about}`} measured?`
          : `Which unit is “${written}”${about === '' ? '' : ` of ${about}`}?`,
      hint:
        written === ''
          ? 'Neither the head of the column nor the row says so.'
          : 'It could be more than one, or is not known.',
      choices: [...units.map((unit) => ({ value: unit, text: unitNames[unit] ?? unit })), leaveOutChoice],
    }),
    `“${text('amount')}”`,
  );
  if (answer === '') return awaitingAnswer;
  return answer === leaveOutValue ? leftOut : { unit: answer };
}

/** An amount with a unit out of `units`, asked for where it is not clear. */
export function amountOf(
  reader: LogReader,
  cells: Cells,
  { units, about }: { units: readonly string[]; about: string },
): { value: number; unit: string } | NotTaken {
  if (cells.text('amount') === '') return refusedBecause('How much it was is missing.');
  const written = writtenAmount(reader, cells, 'amount');
  const isOpen = isNotTaken(written);
  if (isOpen && written.state === 'refused') return written;
  // Both doubts about an amount are asked at once: its mark and its unit.
  const text = isOpen ? unitText(cells, 'amount') : written.unit;
  const unit = unitOf(reader, cells, { written: text, units, about });
  if (isOpen) return written;
  return isNotTaken(unit) ? unit : { value: written.value, unit: unit.unit };
}

import { parseReadingText } from '../../science/units.ts';
import { type MethodFigures, type ParsedValue, parseEntry } from '../../water/entry/entry.rules.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import { type Quantity, sayBand, unitName } from '../../water/quantities/quantities.ts';
import type { DecimalMark } from './marks.rules.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  nothingMeasured,
  type QuestionList,
  questionId,
  refusedBecause,
} from './questions.rules.ts';
import { unitOptions } from './units.rules.ts';

/** One cell that holds, or should hold, a value. */
export interface ValueCell {
  row: number;
  text: string;
  /** What the row's code column says of it; null where there is none. */
  code: string | null;
  quantity: Quantity;
  unit: string;
  method: MethodFigures | null;
  laboratory: string;
  /** The least that could have been seen, as the file states it in the cell's unit; '' where it does not. */
  limit: string;
  /** The column it stands in, counted from 0. */
  column: number;
  /** The decimal mark as the file's other values show it; null where they leave it open. */
  decimalMark: DecimalMark | null;
}

/** What became of a cell. */
export type CellResult = { state: 'taken'; reading: ParsedValue } | NotTaken;

const zero = /^[+-]?0*[.,]?0*$/;
const separatorBeforeThree = /^([<>≤≥=\s]*[+\-−]?[1-9]\d{0,2})([.,])(\d{3})(?!\d)/;

/**
 * What a cell says of a quantity. Six things are kept apart: a value, a limit (`<0.02`), not detected (`ND`), zero,
 * not measured (`-`) and nothing (a blank); what could mean two of them is asked, and never taken as zero.
 */
export function readValue(cell: ValueCell, questions: QuestionList): CellResult {
  const coded = applyCode(cell, questions);
  if (typeof coded !== 'string') return coded;
  if (coded === '') return nothingMeasured('empty');
  const plain = applyZero(coded, cell, questions);
  if (typeof plain !== 'string') return plain;
  const gravity = gravityIn(plain, cell);
  const unit = gravity === null ? cell.unit : gravityUnit(plain, cell, questions);
  if (typeof unit !== 'string') return unit;
  const text = gravity ?? applySeparator(applyDetectionLimit(plain, cell, questions), cell, questions);
  if (typeof text !== 'string') return text;
  const read = parseEntry({ quantityCode: cell.quantity.code, text, unit }, cell.quantity, cell.method);
  if (!read.ok) return refusedBecause(read.message);
  return read.reading === null
    ? nothingMeasured('marked as not measured')
    : applyRange(read.reading, cell, questions);
}

/** The cell's text as its row's code has it. */
function applyCode(
  { code, text: written, limit, row }: ValueCell,
  questions: QuestionList,
): string | NotTaken {
  if (code === null || code === '=') return written;
  const text = written === '' && code === '<' ? limit : written;
  if (code === '<' || code === '>') return withLimit(text, code);
  const answer = questions.ask(questionId('code', code), row, () => ({
    text: code === '' ? 'What does a blank code mean?' : `What does the code “${code}” mean?`,
    hint: 'Every code of the file has to be known before it is taken.',
    choices: [
      { value: 'value', text: 'The value is a value' },
      { value: 'limit', text: 'The value is a limit: what was there lies below it' },
      { value: 'nothing', text: 'Nothing was measured' },
      leaveOutChoice,
    ],
  }));
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  if (answer === 'nothing') return nothingMeasured('blank, by its code');
  return answer === 'limit' ? withLimit(text || limit) : text;
}

const withLimit = (text: string, sign: '<' | '>' = '<') =>
  text === '' || /^[<≤>≥]/.test(text) ? text : `${sign}${text}`;

/** Zero is asked about, once for each laboratory and once for tests at the bench. */
function applyZero(text: string, cell: ValueCell, questions: QuestionList): string | NotTaken {
  if (!zero.test(text) || !/0/.test(text)) return text;
  const { laboratory, quantity, row } = cell;
  if (quantity.plausibleLow < 0) return text;
  const true0 = { value: 'value', text: 'It is a true zero' };
  const answer = questions.ask(questionId('zero', laboratory), row, () => ({
    text: `What does “${text}” mean${laboratory === '' ? '' : ` to ${laboratory}`}?`,
    hint: 'No test sees nothing at all. A zero in a report is mostly “below what we can see”, or “not measured”.',
    choices: [
      { value: 'below', text: 'Below what the method detects' },
      { value: 'nothing', text: 'Not measured, or failed' },
      ...(laboratory === '' ? [true0] : []),
      leaveOutChoice,
    ],
  }));
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  if (answer === 'nothing') return nothingMeasured(`“${text}” means not measured, as answered`);
  return answer === 'below' ? 'ND' : text;
}

/**
 * The specific gravity that is written where a practical salinity should be: "1,026", "1.0264", or "1026" as a hydrometer is
 * marked (common practice). No practical salinity of a farm is so low, or so high.
 */
function gravityIn(text: string, { quantity, unit }: ValueCell): string | null {
  const fraction = /^1(?:[.,](0\d{1,3})|(0\d\d))$/.exec(text.trim());
  if (quantity.code !== 'salinity' || unit !== quantity.canonicalUnit || fraction === null) return null;
  const written = `1.${fraction[1] ?? fraction[2]}`;
  return Number(written) > 1 && Number(written) < 1.05 ? written : null;
}

/** Which specific gravity a column means: asked once, since each has its own temperatures. */
function gravityUnit(text: string, cell: ValueCell, questions: QuestionList): string | NotTaken {
  const { quantity, row, column } = cell;
  const answer = questions.ask(
    questionId('gravity', String(column)),
    row,
    () => ({
      text: `“${text}” of salinity looks like a specific gravity: at which temperatures?`,
      hint: 'The report or the instrument says them, as 25/25 (sample and water at 25 °C). The same water reads otherwise by each.',
      choices: [...unitOptions(quantity.code).filter(({ value }) => value.startsWith('SG')), leaveOutChoice],
    }),
    `“${text}”`,
  );
  if (answer === '') return awaitingAnswer;
  return answer === leaveOutValue ? leftOut : answer;
}

/** "Not detected" needs a limit: the method's own, or one that is asked for. */
function applyDetectionLimit(text: string, cell: ValueCell, questions: QuestionList): string | NotTaken {
  const { quantity, unit, method, laboratory, row, limit } = cell;
  if (/[1-9]/.test(text)) return text;
  const read = parseReadingText(text, quantity.code, unit);
  if (!read.ok || read.value !== null) return text;
  if (/[1-9]/.test(limit)) return withLimit(limit);
  if (method?.detectionLimit) return text;
  const whose = laboratory === '' ? 'the test' : laboratory;
  const answer = questions.ask(questionId('limit', quantity.code, laboratory), row, () => ({
    text: `How little ${nameInSentence(quantity.name)} could ${whose} just have seen, in ${unitName(quantity.code, unit) || unit}?`,
    hint: `“Not detected” is kept as below this limit. Write a number, or “${leaveOutValue}” to leave these rows out.`,
    choices: [],
  }));
  if (answer === '') return awaitingAnswer;
  return answer === leaveOutValue ? leftOut : `<${answer.replace(/^[<≤]\s*/, '')}`;
}

/**
 * One mark before three digits parts thousands or is the decimal mark: as the file's other values show, else asked, once
 * for each quantity.
 */
function applySeparator(
  text: string | NotTaken,
  cell: ValueCell,
  questions: QuestionList,
): string | NotTaken {
  if (typeof text !== 'string') return text;
  const found = separatorBeforeThree.exec(text);
  if (found === null) return text;
  const { quantity, unit, row, decimalMark } = cell;
  const read = parseReadingText(text, quantity.code, unit);
  if (read.ok || read.reason !== 'unclear number') return text;
  if (decimalMark !== null)
    return text.replace(separatorBeforeThree, decimalMark === found[2] ? '$1.$30' : '$1$3');
  const name = unitName(quantity.code, unit);
  const withUnit = (value: number) => `${value} ${name}`.trim();
  const [decimal, thousands] = [Math.min(...read.candidates), Math.max(...read.candidates)];
  const usual = sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh);
  const answer = questions.ask(
    questionId('mark', quantity.code, found[2] ?? ''),
    row,
    () => ({
      text: `“${text}” of ${nameInSentence(quantity.name)}: ${withUnit(thousands)} or ${withUnit(decimal)}?`,
      hint: `${usual} is usual.`,
      choices: [
        { value: 'thousands', text: `${withUnit(thousands)}: the mark separates thousands` },
        { value: 'decimal', text: `${withUnit(decimal)}: it is the decimal mark` },
        leaveOutChoice,
      ],
    }),
    `“${text}”`,
  );
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  return text.replace(separatorBeforeThree, answer === 'thousands' ? '$1$3' : '$1.$30');
}

/**
 * Values outside the usual range are asked about, each shown: once for all of one quantity and unit that are off in the
 * same way, to the same power of ten. A slip of the unit and an unusual value are two questions.
 */
function applyRange(reading: ParsedValue, cell: ValueCell, questions: QuestionList): CellResult {
  const { quantity, row, text } = cell;
  const { value, below, above } = reading;
  const usual = value <= quantity.plausibleHigh && (below || value >= quantity.plausibleLow);
  if (usual) return { state: 'taken', reading };
  const side = value > quantity.plausibleHigh ? 'above' : 'below';
  const id = questionId('range', quantity.code, reading.unit, side, tensOff(value, quantity));
  const mark = below ? '< ' : above ? '> ' : '';
  const said = `${mark}${Number(reading.entered.toPrecision(6))} ${unitName(quantity.code, reading.unit)}`;
  const answer = questions.ask(
    id,
    row,
    () => ({
      text: `${quantity.name} ${side} the usual ${sayBand(quantity, quantity.plausibleLow, quantity.plausibleHigh)}: are these values right?`,
      hint: 'Check their unit and decimal mark.',
      choices: [{ value: 'take', text: 'Take them as they are' }, leaveOutChoice],
    }),
    `“${text}” is ${said}`.trim(),
  );
  if (answer === '') return awaitingAnswer;
  return answer === leaveOutValue ? leftOut : { state: 'taken', reading };
}

/** How many powers of ten a canonical value is off the usual range; '' where either end is no positive number. */
function tensOff(value: number, { plausibleLow, plausibleHigh }: Quantity): string {
  const ratio = value > plausibleHigh ? value / plausibleHigh : plausibleLow / value;
  return Number.isFinite(ratio) && ratio >= 1 ? String(Math.floor(Math.log10(ratio))) : '';
}

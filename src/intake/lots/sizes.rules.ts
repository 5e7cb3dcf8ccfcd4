import {
  awaitingAnswer,
  isNotTaken,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  refusedBecause,
} from '../file/questions.rules.ts';
import { isInWords, sizeInWords } from './in-words.rules.ts';
import type { Cells, LotReader } from './lot-reader.rules.ts';

const mmOf: Readonly<Record<string, number>> = { mm: 1, cm: 10, in: 25.4, inch: 25.4, '"': 25.4, '”': 25.4 };

/** "1 1/2", "3/4": as inches are written. */
const fraction = /(?:(\d+)\s+)?\b(\d{1,2})\/(2|4|8|16)\b/g;

/** "35 mm", "25-30 mm", or sides: "3x2 cm". No numbers where it is no size. */
function sizesIn(written: string): { numbers: number[]; areSides: boolean; unit: string } {
  const text = written.replace(fraction, (_, whole = '0', part, of) =>
    String(Number(whole) + Number(part) / Number(of)),
  );
  const [, said = '', unit = ''] = /^([\d.,\s×x*–-]+?)\s*(mm|cm|in|inch|["”])?$/i.exec(text) ?? [];
  const areSides = /[×x*]/i.test(said);
  const parts = said.split(areSides ? /\s*[×x*]\s*/i : /\s*[-–]\s*/);
  const isSize = parts.every((part) => /^[\d.,]+$/.test(part)) && parts.length <= (areSides ? 3 : 2);
  return { numbers: isSize ? parts.map((part) => Number(part.replace(',', '.'))) : [], areSides, unit };
}

/** The size of a lot's pieces, mm; null where the row says none. */
export function sizeOf(reader: LotReader, cells: Cells, row: number): number | null | NotTaken {
  const text = cells.text('size');
  if (text === '' || text === '-') return null;
  const { numbers, areSides, unit: written } = sizesIn(text);
  const [from, to] = [Math.min(...numbers), Math.max(...numbers)];
  const isBackwards = !areSides && numbers[0] !== from;
  if (numbers.length === 0 && isInWords(text)) {
    const said = sizeInWords(reader, row, text);
    return isNotTaken(said) ? said : said.mm;
  }
  if (numbers.length === 0 || !Number.isFinite(from + to) || isBackwards)
    return refusedBecause(`“${text}” is not a size. Write it like 35 mm.`);
  // A mark before three digits may part thousands as well as decimals.
  if (/[.,]\d{3}(?!\d)/.test(text))
    return refusedBecause(`“${text}” can be read in two ways. Write it without the mark, like 35 mm.`);
  const several = { from, to, text };
  const value = from === to ? from : areSides ? sideOf(reader, row, several) : rangeOf(reader, row, several);
  if (value === null || typeof value === 'object') return value;
  const head = reader.layout.columns[reader.columnOf.get('size') ?? -1]?.unit ?? '';
  let factor = mmOf[(written || head).toLowerCase()];
  if (factor === undefined) {
    const answer = reader.questions.ask('size-unit', row, () => ({
      text: `In what are sizes like “${text}” measured?`,
      hint: 'Neither the head of the column nor the cells say so.',
      choices: [
        { value: 'mm', text: 'Millimetres' },
        { value: 'cm', text: 'Centimetres' },
        { value: 'in', text: 'Inches' },
        leaveOutChoice,
      ],
    }));
    if (answer === '') return awaitingAnswer;
    if (answer === leaveOutValue) return leftOut;
    factor = mmOf[answer] ?? 1;
  }
  const sizeMm = Math.round(value * factor);
  return sizeMm >= 1 && sizeMm <= 2000
    ? sizeMm
    : refusedBecause(`“${text}” is not a size from 1 to 2,000 mm.`);
}

/** One of the sides of a piece, as the file's owner wants it kept. */
function sideOf(
  { questions }: LotReader,
  row: number,
  { from, to, text }: { from: number; to: number; text: string },
): number | null | NotTaken {
  const answer = questions.ask('size-sides', row, askOfSides, `“${text}”`);
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  return answer === 'none' ? null : answer === 'longer' ? to : from;
}

const askOfSides = () => ({
  text: 'Some sizes have several sides. A lot keeps one size: which side?',
  hint: 'It says when pieces are large enough to sell.',
  choices: [
    { value: 'longer', text: 'The longest' },
    { value: 'shorter', text: 'The shortest' },
    { value: 'none', text: 'No size for these lots' },
    leaveOutChoice,
  ],
});

/** The size of a lot whose pieces differ, as the file's owner wants it kept. */
function rangeOf(
  { questions }: LotReader,
  row: number,
  { from, to, text }: { from: number; to: number; text: string },
): number | null | NotTaken {
  const answer = questions.ask(
    'size-range',
    row,
    () => ({
      text: `A lot keeps one size. Which of “${text}”?`,
      hint: 'It says when pieces are large enough to sell.',
      choices: [
        { value: 'smaller', text: 'The smaller' },
        { value: 'middle', text: 'The middle' },
        { value: 'none', text: 'No size for these lots' },
        leaveOutChoice,
      ],
    }),
    `“${text}”`,
  );
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  if (answer === 'none') return null;
  return answer === 'smaller' ? from : (from + to) / 2;
}

import { mmWords } from '../../platform/units/measures.ts';
import {
  awaitingAnswer,
  leaveOutChoice,
  leaveOutValue,
  leftOut,
  type NotTaken,
  questionId,
} from '../file/questions.rules.ts';
import type { LotColumnMeaning } from './columns.rules.ts';
import type { Cells, LotReader } from './lot-reader.rules.ts';

// Cells that say in words what is kept as a number: "small", "thumb size", "one", "ask".

const counts: Readonly<Record<string, number>> = Object.fromEntries(
  [
    'a an single one ein eine eins un une uno una um uma een',
    'two pair zwei deux dos due dois duas twee',
    'three drei trois tres tre três drie',
    'four vier quatre cuatro quattro quatro',
    'five fünf cinq cinco cinque vijf',
    'six sechs seis sei zes',
    'seven sieben sept siete sette sete zeven',
    'eight acht huit ocho otto oito',
    'nine neun neuf nueve nove negen',
    'ten zehn dix diez dieci dez tien',
  ].flatMap((words, i) => words.split(' ').map((word) => [word, i + 1])),
);

/** A count from one to ten that is written as a word, in seven languages; null where it is none. */
export const countInWords = (text: string): number | null => counts[text.trim().toLowerCase()] ?? null;

/** Sizes to choose from for a word, mm; own choice. */
const offeredMm = [5, 10, 15, 20, 25, 30, 40, 50, 60, 80, 100, 120, 150, 200];
/** So many words are asked about one by one; what comes beyond them has no size. Own choice. */
const mostWords = 12;

const noneValue = 'none';
const sizeQuestion = (text: string) => questionId('size-said', text.trim().toLowerCase());
const otherSizes = 'size-other';
const priceQuestion = 'price-said';

/** The size that the file's owner gives to a word; null where it has none, and the word goes to the note. */
export function sizeInWords(
  { questions }: LotReader,
  row: number,
  text: string,
): { mm: number | null } | NotTaken {
  const id = sizeQuestion(text);
  const asked = questions.questions().filter((one) => one.id.startsWith('size-said-'));
  const isOneOfMany = asked.length >= mostWords && asked.every((one) => one.id !== id);
  const answer = isOneOfMany
    ? questions.ask(otherSizes, row, askOfOtherSizes, `“${text}”`)
    : questions.ask(id, row, () => ({
        text: `How large is “${text}”?`,
        hint: 'A lot keeps one size. It says when pieces are large enough to sell.',
        choices: [
          { value: noneValue, text: 'No size; the word goes to the note' },
          ...offeredMm.map((mm) => ({ value: String(mm), text: mmWords(mm) })),
          leaveOutChoice,
        ],
      }));
  if (answer === '') return awaitingAnswer;
  if (answer === leaveOutValue) return leftOut;
  return { mm: answer === noneValue ? null : Number(answer) };
}

const askOfOtherSizes = () => ({
  text: 'Other sizes are written in words too. What of them?',
  hint: 'Each lot’s own size can be entered later.',
  choices: [{ value: noneValue, text: 'No size; the words go to the note' }, leaveOutChoice],
});

/** What becomes of a price that is no amount ("ask"): none, and the word goes to the note. */
export function priceInWords({ questions }: LotReader, row: number, text: string): null | NotTaken {
  const answer = questions.ask(
    priceQuestion,
    row,
    () => ({
      text: 'Some prices are no amounts. What of them?',
      hint: 'A lot without a price can be sold; its price is then entered with the sale.',
      choices: [{ value: noneValue, text: 'No price; the words go to the note' }, leaveOutChoice],
    }),
    `“${text}”`,
  );
  if (answer === '') return awaitingAnswer;
  return answer === leaveOutValue ? leftOut : null;
}

/** Whether a cell holds no number at all, or a number of something else: "small", "6-8 polyps". */
export const isInWords = (text: string): boolean => /\p{L}{3,}/u.test(text);

/** What a row says in words of size and price and is kept as no number, for its note: "size: small". */
export function wordsForNote(
  { questions }: LotReader,
  cells: Cells,
  kept: { sizeMm: number | null; priceMinor: number | null },
): string {
  const said = (meaning: LotColumnMeaning, isKept: boolean, ids: readonly string[]) => {
    const text = cells.text(meaning);
    const isNone = ids.some((id) => questions.answerTo(id) === noneValue);
    return !isKept && isNone && isInWords(text) ? [`${cells.head(meaning).toLowerCase()}: ${text}`] : [];
  };
  return [
    ...said('size', kept.sizeMm !== null, [sizeQuestion(cells.text('size')), otherSizes]),
    ...said('price', kept.priceMinor !== null, [priceQuestion]),
  ].join('; ');
}

import { mmWords } from '../../platform/units/measures.ts';
import { priceOf, priceWords } from '../../platform/words/money.ts';
import { plural } from '../../platform/words/numbers.ts';
import {
  columnViews,
  formatChoices,
  leftWords,
  questionView,
  rowWords,
  shownLines,
  unusedWords,
} from '../file/preview-parts.ts';
import { lotColumns } from './columns.rules.ts';
import { isAnswered } from './lot-imports.ts';
import type { KindQuestion, LotLine } from './lot-reader.rules.ts';
import type { ParsedLots } from './parse-lots.ts';

const columnChoices = Object.entries(lotColumns).map(([value, text]) => ({ value, text }));

/** The lists of a preview, by the word in its address. */
export const shownStates = ['taken', 'refused', 'asked', 'present'] as const;
type Shown = (typeof shownStates)[number];

const stateWords: Record<Shown, string> = {
  taken: 'To take in',
  refused: 'Refused',
  asked: 'Waiting for an answer',
  present: 'Here already',
};

interface Asked {
  /** Address of the file's page. */
  href: string;
  preview: ParsedLots;
  show: Shown;
  page: number;
  currency: string | null;
}

/** All that the preview of a file of stock needs. */
export function lotsPreview({ href, preview, show, page, currency }: Asked) {
  const { lines, questions, kindQuestions, fault, format, unused } = preview;
  const open = [...questions, ...kindQuestions].filter(({ answer }) => answer === '').length;
  const { rowsOf, own, ...shown } = shownLines({ href, lines, states: stateWords, show, page });
  const taken = rowsOf('taken');
  const used = currency ?? questions.find(({ id }) => id === 'currency')?.answer ?? null;
  return {
    fault,
    lead: fault ?? leadWords(taken, open),
    questions: questions.map(questionView),
    kindQuestions: kindQuestions.map(kindQuestionView),
    notices: format.notices,
    unusedWords: unusedWords(unused),
    canTake: isAnswered(preview) && taken > 0,
    takeWords: `Take in ${plural(taken, 'lot', 'lots')}`,
    leftWords: leftWords(rowsOf('present'), rowsOf('refused')),
    ...shown,
    lines: own.map((line) => lineView(line, used)),
    format: formatChoices(preview, 'lots'),
    columns: columnViews({ layout: format.layout, rows: preview.rows }, columnChoices),
  };
}

function leadWords(taken: number, open: number): string {
  const asks =
    open === 0
      ? ''
      : ` ${plural(open, 'question is', 'questions are')} open: nothing is taken until they are answered.`;
  return `${plural(taken, 'lot', 'lots')} would be taken in.${asks} Nothing is loaded yet.`;
}

/** A likely kind is filled in, to be checked; one that is only like it is named beside the field. */
function kindQuestionView({ suggestion, answer, ...question }: KindQuestion) {
  const likely = answer === '' && suggestion?.isLikely === true ? suggestion.name : '';
  const words =
    answer !== '' || suggestion === null
      ? ''
      : suggestion.isLikely
        ? '. Suggested: check it'
        : `. Its name is like ${suggestion.name}`;
  return { ...question, value: answer || likely, hint: `${rowWords(question)}${words}` };
}

function lineView({ row, column, text, reason, parsed }: LotLine, currency: string | null) {
  if (parsed === null) return { row, column, text, reason, lot: null };
  const price = priceOf(parsed.priceMinor, currency === 'none' ? null : currency);
  const what = [
    plural(parsed.pieces, 'piece', 'pieces'),
    parsed.sizeMm === null ? '' : mmWords(parsed.sizeMm),
    price === null ? '' : priceWords(price),
    parsed.isMother ? 'a mother' : '',
  ];
  const words = what.filter((one) => one !== '').join(', ');
  return { row, column, text, reason, lot: { ...parsed, words, place: parsed.place?.words ?? '' } };
}

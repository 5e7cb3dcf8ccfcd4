import { priceOf, priceWords } from '../../platform/words/money.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { formatChoices } from '../file/format-choices.ts';
import type { Question } from '../file/questions.rules.ts';
import { lotColumns } from './columns.rules.ts';
import { isAnswered } from './lot-imports.ts';
import type { KindQuestion, LotLine } from './lot-reader.rules.ts';
import type { ParsedLots } from './parse-lots.ts';

const perPage = 100;
const samplesShown = 3;

/** The lists of a preview, by the word in its address. */
export const shownStates = ['taken', 'refused', 'asked', 'present'] as const;
type Shown = (typeof shownStates)[number];

const stateWords: Record<Shown, string> = {
  taken: 'To be taken in',
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
  const { lines, questions, kindQuestions, fault, format } = preview;
  const counted = Map.groupBy(lines, (line) => line.state);
  const rowsOf = (state: Shown) => new Set((counted.get(state) ?? []).map((line) => line.row)).size;
  const open = [...questions, ...kindQuestions].filter(({ answer }) => answer === '').length;
  const own = counted.get(show) ?? [];
  const from = page * perPage;
  const until = Math.min(from + perPage, own.length);
  const taken = rowsOf('taken');
  const used = currency ?? questions.find(({ id }) => id === 'currency')?.answer ?? null;
  return {
    fault,
    lead: fault ?? leadWords(taken, open),
    questions: questions.map(questionView),
    kindQuestions: kindQuestions.map(kindQuestionView),
    notices: format.notices,
    canTake: isAnswered(preview) && taken > 0,
    takeWords: `Take in ${plural(taken, 'lot', 'lots')}`,
    leftWords: leftWords(rowsOf('present'), rowsOf('refused')),
    tabs: shownStates
      .filter((state) => rowsOf(state) > 0 || state === 'taken')
      .map((state) => ({
        href: `${href}?show=${state}#rows`,
        text: `${stateWords[state]}: ${numberWords(rowsOf(state))}`,
        current: state === show,
      })),
    lines: own.slice(from, until).map((line) => lineView(line, used)),
    newer: page > 0 ? `${href}?show=${show}&page=${page - 1}#rows` : '',
    older: own.length > until ? `${href}?show=${show}&page=${page + 1}#rows` : '',
    pageWords: `${numberWords(Math.min(from + 1, own.length))} to ${numberWords(until)} of ${numberWords(own.length)}`,
    format: formatChoices(preview, 'lots'),
    columns: columnViews(preview),
  };
}

function leadWords(taken: number, open: number): string {
  const asks =
    open === 0
      ? ''
      : ` ${plural(open, 'question is', 'questions are')} open: nothing is taken until they are answered.`;
  return `${plural(taken, 'lot', 'lots')} would be taken in.${asks} Nothing is loaded yet.`;
}

function leftWords(present: number, refused: number): string {
  const parts = [
    present > 0 ? `${plural(present, 'row is', 'rows are')} here already and left out` : '',
    refused > 0 ? `${plural(refused, 'row is', 'rows are')} refused and handed back as a file` : '',
  ].filter(Boolean);
  return parts.length === 0 ? '' : `${parts.join('; ')}.`;
}

function rowWords({ rows, count }: { rows: readonly number[]; count: number }): string {
  if (rows.length === 0) return '';
  return `${rows.length > 1 ? 'Rows' : 'Row'} ${rows.join(', ')}${count > rows.length ? ', …' : ''}`;
}

function questionView({ rows, count, ...question }: Question) {
  const where = rowWords({ rows, count });
  return {
    ...question,
    text: where === '' ? question.text : `${question.text} (${where.toLowerCase()})`,
    isFree: question.choices.length === 0,
    isLong: question.choices.length > 6,
  };
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
    parsed.sizeMm === null ? '' : `${parsed.sizeMm} mm`,
    price === null ? '' : priceWords(price),
    parsed.isMother ? 'a mother' : '',
  ];
  const words = what.filter((one) => one !== '').join(', ');
  return { row, column, text, reason, lot: { ...parsed, words, place: parsed.place?.words ?? '' } };
}

function columnViews({ format, rows }: ParsedLots) {
  const { columns, headRow } = format.layout;
  const choices = Object.entries(lotColumns).map(([value, text]) => ({ value, text }));
  const samples = rows.slice(headRow, headRow + 50);
  return columns.map(({ head, meaning }, index) => ({
    index,
    head: head || `column ${index + 1}`,
    meaning,
    choices,
    samples: samples
      .map((row) => row[index] ?? '')
      .filter(Boolean)
      .slice(0, samplesShown)
      .join(' · ')
      .slice(0, 80),
  }));
}

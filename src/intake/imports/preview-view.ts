import { numberWords, plural } from '../../platform/words/numbers.ts';
import { say, unitName } from '../../water/quantities/quantities.ts';
import type { Known } from '../file/farm-context.ts';
import { meanings } from '../file/headers.rules.ts';
import type { Line, LineState } from '../file/lines.rules.ts';
import type { Answers, Question } from '../file/questions.rules.ts';
import { separators } from '../file/table.ts';
import { encodingNames, encodings } from '../file/text.rules.ts';
import { unitAnswers } from '../file/units.rules.ts';
import { isSettled, type Preview } from './preview.ts';

const perPage = 100;
const samplesShown = 3;

/** The lists of a preview, by the word in its address. */
export const shownStates = ['taken', 'refused', 'asked', 'present', 'nothing'] as const;

const stateWords: Record<LineState, string> = {
  taken: 'To be taken',
  refused: 'Refused',
  asked: 'Waiting for an answer',
  present: 'Here already',
  nothing: 'Nothing measured',
};

interface Shown {
  id: string;
  known: Known;
  preview: Preview;
  answers: Answers;
  show: LineState;
  page: number;
}

/** All that the preview's view needs. */
export function previewData({ id, known, preview, answers, show, page }: Shown) {
  const { lines, manner, questions, fault } = preview;
  const open = questions.filter((question) => question.answer === '').length;
  const counted = Map.groupBy(lines, (line) => line.state);
  const count = (state: LineState) => counted.get(state)?.length ?? 0;
  const tabs = shownStates
    .filter((state) => count(state) > 0 || state === 'taken')
    .map((state) => ({
      href: `/water/imports/${id}?show=${state}#rows`,
      text: `${stateWords[state]}: ${numberWords(count(state))}`,
      current: state === show,
    }));
  const own = counted.get(show) ?? [];
  const from = page * perPage;
  return {
    fault,
    lead: fault ?? leadWords(count, open),
    questions: questions.map(questionView),
    notices: manner.notices,
    canTake: isSettled(preview) && count('taken') > 0,
    taken: count('taken'),
    takeWords: `Take ${plural(count('taken'), 'reading', 'readings')}`,
    leftWords: leftWords(count),
    tabs,
    rows: own.slice(from, from + perPage).map((line) => lineView(line, known)),
    newer: page > 0 ? `/water/imports/${id}?show=${show}&page=${page - 1}#rows` : '',
    older: own.length > from + perPage ? `/water/imports/${id}?show=${show}&page=${page + 1}#rows` : '',
    pageWords: `${numberWords(Math.min(from + 1, own.length))} to ${numberWords(Math.min(from + perPage, own.length))} of ${numberWords(own.length)}`,
    newest: newestOf(lines, known),
    manner: mannerView(preview, answers),
    columns: columnViews(preview, known, answers),
  };
}

function leadWords(count: (state: LineState) => number, open: number): string {
  const asks =
    open === 0
      ? ''
      : ` ${plural(open, 'question is', 'questions are')} open: nothing is taken until they are answered.`;
  return `${plural(count('taken'), 'reading', 'readings')} would be taken.${asks} Nothing is loaded yet.`;
}

function leftWords(count: (state: LineState) => number): string {
  const parts = [
    count('present') > 0 ? `${numberWords(count('present'))} are here already and are left out` : '',
    count('refused') > 0 ? `${numberWords(count('refused'))} are refused and handed back as a file` : '',
    count('nothing') > 0 ? `${plural(count('nothing'), 'cell holds', 'cells hold')} no measurement` : '',
  ].filter(Boolean);
  return parts.length === 0 ? '' : `${parts.join('; ')}.`;
}

function questionView({ rows, count, ...question }: Question) {
  const where =
    rows.length === 0
      ? ''
      : ` (row${rows.length > 1 ? 's' : ''} ${rows.join(', ')}${count > rows.length ? ', …' : ''})`;
  return {
    ...question,
    text: `${question.text}${where}`,
    isFree: question.choices.length === 0,
    isLong: question.choices.length > 6,
  };
}

function lineView(line: Line, known: Known) {
  const { row, column, text, reason, kept } = line;
  if (kept === null) return { row, column, text, reason, at: null, system: '', taken: '', means: '' };
  const { quantity, reading, means, batch } = kept;
  const system = known.systems.find((one) => one.id === kept.systemId)?.name ?? '';
  const entered =
    `${reading.below ? '< ' : ''}${numberWords(Number(reading.entered.toPrecision(6)))} ${unitName(quantity.code, reading.unit)}`.trim();
  const canonical = say(quantity, reading.value, reading.below);
  return {
    row,
    column,
    text,
    reason,
    at: kept.at,
    system,
    taken: `${quantity.name} ${entered === canonical || reading.unit === quantity.displayUnit ? entered : `${entered} = ${canonical}`}`,
    means: [methodName(means.methodId, known) ?? means.laboratory, batch].filter(Boolean).join(' · '),
  };
}

function methodName(id: string | null, { bench }: Known): string | null {
  const method = bench.methods.find((one) => one.id === id);
  return method === undefined ? null : method.laboratory || method.name;
}

const newestShown = 5;

/** The newest of what would be taken: a swapped day and month shows here. */
function newestOf(lines: readonly Line[], known: Known) {
  const newest: Line[] = [];
  for (const line of lines) {
    if (line.state !== 'taken' || line.kept === null) continue;
    newest.push(line);
    if (newest.length > newestShown * 20) trim(newest);
  }
  trim(newest);
  return newest.map((line) => lineView(line, known));
}

function trim(lines: Line[]): void {
  lines.sort((a, b) => (b.kept?.at.getTime() ?? 0) - (a.kept?.at.getTime() ?? 0));
  lines.length = Math.min(lines.length, newestShown);
}

function mannerView({ manner, rows }: Preview, answers: Answers) {
  const { encoding, separator, layout } = manner;
  return {
    encoding,
    encodings: encodings.map((value) => ({ value, text: encodingNames[value] })),
    separator,
    separators: Object.keys(separators).map((value) => ({ value, text: value })),
    head: String(layout.headRow),
    heads: [
      { value: '0', text: 'No row: the file starts with readings' },
      ...rows
        .slice(0, 15)
        .map((row, i) => ({ value: String(i + 1), text: `Row ${i + 1}: ${row.join(' · ').slice(0, 60)}` })),
    ],
    noon: answers.noon ?? '12:00',
    when: answers.when ?? '',
    laboratory: answers.laboratory ?? '',
    batch: answers.batch ?? '',
    hasWhen: layout.columns.some(({ meaning }) => meaning === 'when' || meaning === 'date'),
    hasLaboratory: layout.columns.some(({ meaning }) => meaning === 'laboratory'),
    hasBatch: layout.columns.some(({ meaning }) => meaning === 'batch'),
  };
}

function columnViews({ manner, rows, lines, questions }: Preview, known: Known, answers: Answers) {
  const { columns, headRow } = manner.layout;
  const quantities = [...known.bench.quantities.values()];
  const choices = [
    ...Object.entries(meanings).map(([value, text]) => ({ value, text })),
    ...quantities.map(({ code, name }) => ({ value: `q:${code}`, text: `${name}, a value in each row` })),
  ];
  const samples = rows.slice(headRow, headRow + 50);
  return columns.map((column, i) => {
    const code = column.meaning.startsWith('q:') ? column.meaning.slice(2) : null;
    const head = column.head || `column ${i + 1}`;
    const unit =
      answers[`unit-${i}`] ??
      lines.find((line) => line.column === head && line.kept !== null)?.kept?.reading.unit ??
      '';
    const isAsked = questions.some((question) => question.id === `unit-${i}`);
    return {
      index: i,
      head,
      samples: samples
        .map((row) => row[i] ?? '')
        .filter(Boolean)
        .slice(0, samplesShown)
        .join(' · ')
        .slice(0, 80),
      meaning: column.meaning,
      choices,
      units: code === null || isAsked ? [] : unitAnswers(code),
      unit,
    };
  });
}

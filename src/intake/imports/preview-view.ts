import { numberWords, plural } from '../../platform/words/numbers.ts';
import { sayReading, unitName } from '../../water/quantities/quantities.ts';
import type { FarmContext } from '../file/farm-context.ts';
import { columnMeanings } from '../file/headers.rules.ts';
import type { FileLine, LineState } from '../file/lines.rules.ts';
import type { ParsedFile } from '../file/parse-file.ts';
import { formatChoices, unusedWords } from '../file/preview-parts.ts';
import type { Answers, Question } from '../file/questions.rules.ts';
import { unitOptions } from '../file/units.rules.ts';
import { isFullyAnswered } from './preview.ts';

const perPage = 100;
const samplesShown = 3;

/** The lists of a preview, by the word in its address. */
export const shownStates = ['taken', 'refused', 'asked', 'present', 'nothing'] as const;

const stateWords: Record<LineState, string> = {
  taken: 'To load',
  refused: 'Refused',
  asked: 'Waiting for an answer',
  present: 'Here already',
  nothing: 'Nothing measured',
};

interface PreviewRequest {
  id: string;
  farm: FarmContext;
  preview: ParsedFile;
  answers: Answers;
  show: LineState;
  page: number;
}

/** All that the preview's view needs. */
export function previewView({ id, farm, preview, answers, show, page }: PreviewRequest) {
  const { lines, format, questions, fault } = preview;
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
    lead: fault ?? summaryWords(count, open),
    questions: questions.map(questionView),
    notices: format.notices,
    unusedWords: unusedWords(format.unused),
    canTake: isFullyAnswered(preview) && count('taken') > 0,
    taken: count('taken'),
    takeWords: `Take ${plural(count('taken'), 'reading', 'readings')}`,
    leftWords: notTakenWords(count),
    tabs,
    rows: own.slice(from, from + perPage).map((line) => lineView(line, farm)),
    newer: page > 0 ? `/water/imports/${id}?show=${show}&page=${page - 1}#rows` : '',
    older: own.length > from + perPage ? `/water/imports/${id}?show=${show}&page=${page + 1}#rows` : '',
    pageWords: `${numberWords(Math.min(from + 1, own.length))} to ${numberWords(Math.min(from + perPage, own.length))} of ${numberWords(own.length)}`,
    newest: newestOf(lines, farm),
    format: formatView(preview, answers),
    columns: columnViews(preview, farm, answers),
  };
}

function summaryWords(count: (state: LineState) => number, open: number): string {
  const asks =
    open === 0
      ? ''
      : ` ${plural(open, 'question is', 'questions are')} open: nothing is taken until they are answered.`;
  return `${plural(count('taken'), 'reading', 'readings')} would be taken.${asks} Nothing is loaded yet.`;
}

function notTakenWords(count: (state: LineState) => number): string {
  const parts = [
    count('present') > 0
      ? plural(count('present'), 'is here already and is left out', 'are here already and are left out')
      : '',
    count('refused') > 0
      ? plural(
          count('refused'),
          'is refused and handed back as a file',
          'are refused and handed back as a file',
        )
      : '',
    count('nothing') > 0 ? `${plural(count('nothing'), 'cell holds', 'cells hold')} no measurement` : '',
  ].filter(Boolean);
  return parts.length === 0 ? '' : `${parts.join('; ')}.`;
}

/** Every value that an answer covers, so that none is taken unseen. */
function casesWords({ cases, casesBeyond }: Question): string {
  if (cases.size === 0) return '';
  const all = [...cases].map(([said, times]) => (times === 1 ? said : `${said} (${times} times)`));
  return ` The answer holds for: ${all.join(', ')}${casesBeyond > 0 ? `, and ${plural(casesBeyond, 'more cell', 'more cells')}` : ''}.`;
}

function questionView(asked: Question) {
  const { rows, count, cases: _, casesBeyond: __, ...question } = asked;
  const where =
    rows.length === 0
      ? ''
      : ` (row${rows.length > 1 ? 's' : ''} ${rows.join(', ')}${count > rows.length ? ', …' : ''})`;
  return {
    ...question,
    text: `${question.text}${where}`,
    hint: `${question.hint}${casesWords(asked)}`,
    isFree: question.choices.length === 0,
    isLong: question.choices.length > 6,
  };
}

function lineView(line: FileLine, farm: FarmContext) {
  const { row, column, text, reason, parsed } = line;
  if (parsed === null) return { row, column, text, reason, at: null, system: '', taken: '', instrument: '' };
  const { quantity, reading, instrument, batch } = parsed;
  const system = farm.systems.find((one) => one.id === parsed.systemId)?.name ?? '';
  const entered =
    `${reading.below ? '< ' : reading.above ? '> ' : ''}${numberWords(Number(reading.entered.toPrecision(6)))} ${unitName(quantity.code, reading.unit)}`.trim();
  const canonical = sayReading(quantity, reading);
  return {
    row,
    column,
    text,
    reason,
    at: parsed.at,
    system,
    taken: `${quantity.name} ${entered === canonical || reading.unit === quantity.displayUnit ? entered : `${entered} = ${canonical}`}`,
    instrument: [methodName(instrument.methodId, farm) ?? instrument.laboratory, batch]
      .filter(Boolean)
      .join(' · '),
  };
}

function methodName(id: string | null, { instruments }: FarmContext): string | null {
  const method = instruments.methods.find((one) => one.id === id);
  return method === undefined ? null : method.laboratory || method.name;
}

const newestShown = 5;

/** The newest of what would be taken: a swapped day and month shows here. */
function newestOf(lines: readonly FileLine[], farm: FarmContext) {
  const newest: FileLine[] = [];
  for (const line of lines) {
    if (line.state !== 'taken' || line.parsed === null) continue;
    newest.push(line);
    if (newest.length > newestShown * 20) trim(newest);
  }
  trim(newest);
  return newest.map((line) => lineView(line, farm));
}

function trim(lines: FileLine[]): void {
  lines.sort((a, b) => (b.parsed?.at.getTime() ?? 0) - (a.parsed?.at.getTime() ?? 0));
  lines.length = Math.min(lines.length, newestShown);
}

function formatView(parsed: ParsedFile, answers: Answers) {
  const { columns } = parsed.format.layout;
  const has = (...meanings: string[]) => columns.some(({ meaning }) => meanings.includes(meaning));
  return {
    ...formatChoices(parsed, 'readings'),
    noon: answers.noon ?? '12:00',
    when: answers.when ?? '',
    laboratory: answers.laboratory ?? '',
    batch: answers.batch ?? '',
    hasWhen: has('when', 'date'),
    hasLaboratory: has('laboratory'),
    hasBatch: has('batch'),
  };
}

function columnViews({ format, rows, lines, questions }: ParsedFile, farm: FarmContext, answers: Answers) {
  const { columns, headRow } = format.layout;
  const quantities = [...farm.instruments.quantities.values()];
  const choices = [
    ...Object.entries(columnMeanings).map(([value, text]) => ({ value, text })),
    ...quantities.map(({ code, name }) => ({ value: `q:${code}`, text: `${name}, a value in each row` })),
    ...quantities.map(({ code, name }) => ({
      value: `limit:${code}`,
      text: `${name}, the least that could be seen`,
    })),
  ];
  const samples = rows.slice(headRow, headRow + 50);
  return columns.map((column, i) => {
    const code = column.meaning.startsWith('q:') ? column.meaning.slice(2) : null;
    const head = column.head || `column ${i + 1}`;
    const unit =
      answers[`unit-${i}`] ??
      lines.find((line) => line.column === head && line.parsed !== null)?.parsed?.reading.unit ??
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
      units: code === null || isAsked ? [] : unitOptions(code),
      unit,
    };
  });
}

import { plural } from '../../platform/words/numbers.ts';
import {
  columnViews,
  formatChoices,
  leftWords,
  questionView,
  shownLines,
  unusedWords,
} from '../file/preview-parts.ts';
import { columnChoices } from './columns.rules.ts';
import { type LogKind, logKindWords } from './kinds.rules.ts';
import { isAnswered } from './log-imports.ts';
import type { LogContext } from './log-reader.rules.ts';
import type { ParsedLog } from './parse-log.ts';

/** The lists of a preview, by the word in its address. */
export const shownStates = ['taken', 'refused', 'asked', 'present', 'nothing'] as const;
type Shown = (typeof shownStates)[number];

const stateWords: Record<Shown, string> = {
  taken: 'To load',
  refused: 'Refused',
  asked: 'Waiting for an answer',
  present: 'Here already',
  nothing: 'Empty',
};

interface Asked {
  /** Address of the file's page. */
  href: string;
  kind: LogKind;
  preview: ParsedLog;
  systems: LogContext['systems'];
  noon: string;
  show: Shown;
  page: number;
}

/** All that the preview of a file of what was done needs. */
export function logPreview({ href, kind, preview, systems, noon, show, page }: Asked) {
  const { lines, questions, fault, format, unused, rows } = preview;
  const { one, many } = logKindWords[kind];
  const open = questions.filter(({ answer }) => answer === '').length;
  const { rowsOf, own, ...shown } = shownLines({ href, lines, states: stateWords, show, page });
  const taken = rowsOf('taken');
  const names = new Map(systems.map(({ id, name }) => [id, name]));
  const asks = `${plural(open, 'question is', 'questions are')} open: nothing is taken until they are answered.`;
  return {
    fault,
    lead:
      fault ??
      `${plural(taken, `${one} would be taken`, `${many} would be taken`)}. ${open === 0 ? '' : `${asks} `}Nothing is logged yet.`,
    questions: questions.map(questionView),
    notices: format.notices,
    unusedWords: unusedWords(unused),
    canTake: isAnswered(preview) && taken > 0,
    takeWords: `Take ${plural(taken, one, many)}`,
    leftWords: leftWords(rowsOf('present'), rowsOf('refused')),
    ...shown,
    lines: own.map((line) => ({ ...line, system: names.get(line.parsed?.systemId ?? '') ?? '' })),
    format: formatChoices(preview, many),
    noon: noon || '12:00',
    columns: columnViews({ layout: format.layout, rows }, columnChoices(kind)),
  };
}

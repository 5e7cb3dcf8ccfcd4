import { andWords } from '../../platform/words/lists.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { nameInSentence } from '../../water/quantities/name.rules.ts';
import { readCells } from './cells.ts';
import { dateOrderOf, dayOfFile, dayQuestion } from './date-order.ts';
import type { DateOrder } from './dates.rules.ts';
import type { FarmContext } from './farm-context.ts';
import { type ColumnLayout, columnIndexes, columnLayout, layoutFault, unusedHeads } from './layout.rules.ts';
import { type FileLine, readRow } from './lines.rules.ts';
import { decimalMarks } from './marks.rules.ts';
import { type Answers, type Question, type QuestionList, questionList } from './questions.rules.ts';
import { rowReader } from './row-reader.ts';
import type { Separator } from './table.ts';
import type { Encoding } from './text.rules.ts';

/** How a file is read: as found, or as answered instead. */
export interface FileFormat {
  encoding: Encoding;
  separator: Separator;
  order: DateOrder | null;
  layout: ColumnLayout;
  /** What there is to say of the whole file, a sentence each. */
  notices: string[];
  /** The heads of columns that nothing is taken of, though they hold something. */
  unused: string[];
}

/** A file as it would be taken. */
export interface ParsedFile {
  format: FileFormat;
  rows: string[][];
  lines: FileLine[];
  questions: Question[];
  /** Why the file cannot be read at all yet; null when it can. */
  fault: string | null;
}

/**
 * Reads a file: every value with its meaning, every fault with its row and column, every doubt as a question. It takes as
 * long as the file is long: the service has it done by a worker (`file-reading.ts`).
 * @throws Refusal when the file is no table
 */
export async function parseFile(farm: FarmContext, content: Uint8Array, given: Answers): Promise<ParsedFile> {
  const { encoding, separator, rows, notices } = await readCells(content, given);
  const layout = columnLayout(rows, given);
  const asking = questionList(given);
  const { at } = columnIndexes(layout);
  const column = at('when') >= 0 ? at('when') : at('date');
  const ofAll =
    column >= 0 ? '' : dayOfFile(rows, layout.headRow, { answers: given, questions: asking, notices });
  const answers = ofAll === '' ? given : { ...given, when: ofAll };
  const dates =
    column < 0
      ? [ofAll].filter((text) => text !== '')
      : rows.slice(layout.headRow).map((row) => row[column] ?? '');
  const order = await dateOrderOf(dates, layout.headRow + 1, farm, { answers, questions: asking, notices });
  const isAsked = ofAll === '' && asking.questions().some(({ id }) => id === dayQuestion);
  const fault = isAsked
    ? 'Say below of which day all rows are: they are read then.'
    : layoutFault(layout, answers);
  const unused = unusedHeads(layout, rows);
  const lines = fault === null ? await readLines(farm, layout, order, answers, asking, rows) : [];
  const assumed = assumedWords(lines);
  if (assumed !== '') notices.push(assumed);
  const beyond = asking.countUnasked();
  return {
    format: { encoding, separator, order, layout, notices, unused },
    rows,
    lines,
    questions: asking.questions(),
    fault: beyond > 0 ? 'There are too many questions to answer. Check below what each column holds.' : fault,
  };
}

/** By which methods values count as read of which the file does not say it; '' where it says so of all. */
function assumedWords(lines: readonly FileLine[]): string {
  const by = new Map<string, string>();
  for (const { parsed } of lines) {
    const method = parsed?.instrument.assumed ?? '';
    if (parsed !== null && method !== '') by.set(parsed.quantity.name, method);
  }
  if (by.size === 0) return '';
  const each = [...by].map(([quantity, method]) => `${nameInSentence(quantity)} by ${method}`);
  return `The file does not say what was used for some values. They count as read by the usual method: ${andWords(each)}. Another can be made the usual one under Water, Test kits.`;
}

async function readLines(
  farm: FarmContext,
  layout: ColumnLayout,
  order: DateOrder,
  answers: Answers,
  asking: QuestionList,
  rows: readonly (readonly string[])[],
): Promise<FileLine[]> {
  const marks = decimalMarks(layout, rows);
  const reader = rowReader({ farm, layout, order, answers, questions: asking, marks, rows });
  const breathe = yieldLoop();
  const lines: FileLine[] = [];
  for (const [i, cells] of rows.entries()) {
    if (i < layout.headRow) continue;
    lines.push(...readRow(reader, cells, i + 1));
    await breathe();
  }
  return lines;
}

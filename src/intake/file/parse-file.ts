import { localDay } from '../../platform/days.ts';
import { cleanText } from '../../platform/web/clean-text.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import { type DateOrder, dateOrderDetector } from './dates.rules.ts';
import type { FarmContext } from './farm-context.ts';
import { type ColumnLayout, columnIndexes, columnLayout, layoutFault, unusedHeads } from './layout.rules.ts';
import { type FileLine, readRow } from './lines.rules.ts';
import { decimalMarks } from './marks.rules.ts';
import { type Answers, type Question, type QuestionList, questionList } from './questions.rules.ts';
import { rowReader } from './row-reader.ts';
import { guessSeparator, readTable, type Separator, separatorNamed } from './table.ts';
import {
  decode,
  type Encoding,
  encodingNames,
  encodings,
  encodingWarning,
  guessEncoding,
  lineEndWords,
} from './text.rules.ts';

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
export async function parseFile(
  farm: FarmContext,
  content: Uint8Array,
  answers: Answers,
): Promise<ParsedFile> {
  const breathe = yieldLoop();
  const { encoding, text, notices } = decodeFile(content, answers);
  await breathe();
  const separator = separatorNamed(answers.separator) ?? guessSeparator(text);
  await breathe();
  const { rows, unwrapped } = await readTable(text, separator);
  if (unwrapped > 0) notices.push(`${unwrapped} cells were in quotes twice; the inner quotes are taken off.`);
  const layout = columnLayout(rows, answers);
  const asking = questionList(answers);
  const order = await dateOrderOf(rows, layout, farm, answers, asking, notices);
  const fault = layoutFault(layout, answers);
  const unused = unusedHeads(layout, rows);
  const lines = fault === null ? await readLines(farm, layout, order, answers, asking, rows) : [];
  const beyond = asking.countUnasked();
  return {
    format: { encoding, separator, order, layout, notices, unused },
    rows,
    lines,
    questions: asking.questions(),
    fault:
      beyond > 0
        ? 'There is more to ask than anybody can answer. Check below what each column holds.'
        : fault,
  };
}

function decodeFile(content: Uint8Array, answers: Answers) {
  const guess = guessEncoding(content);
  const chosen = encodings.find((one) => one === answers.encoding);
  const encoding = chosen ?? guess.encoding;
  const decoded = decode(content, encoding);
  const text = cleanText(decoded);
  const how =
    chosen === undefined
      ? `taken as ${encodingNames[encoding]}: ${guess.why}`
      : `read as ${encodingNames[encoding]}, as chosen`;
  const notices = [`The file is ${how}; ${lineEndWords(text)}.`];
  if (text !== decoded) notices.push('Control characters, which no text holds, are taken out.');
  const doubt = encodingWarning(text);
  if (doubt !== null) notices.push(doubt);
  return { encoding, text, notices };
}

/** Day or month first: by the dates' own evidence, else asked. */
async function dateOrderOf(
  rows: readonly (readonly string[])[],
  layout: ColumnLayout,
  farm: FarmContext,
  answers: Answers,
  asking: QuestionList,
  notices: string[],
): Promise<DateOrder> {
  const { at } = columnIndexes(layout);
  const column = at('when') >= 0 ? at('when') : at('date');
  if (column < 0) return 'day-first';
  const texts = rows.slice(layout.headRow).map((row) => row[column] ?? '');
  const watch = dateOrderDetector(localDay(farm.now, farm.timeZone));
  const breathe = yieldLoop();
  for (const text of texts) {
    watch.add(text);
    await breathe();
  }
  const evidence = watch.evidence();
  const given = (['day-first', 'month-first'] as const).find((one) => one === answers.order);
  if (evidence.order === null && evidence.settled) return 'day-first';
  if (evidence.order !== null && given === undefined) {
    const words = evidence.order === 'day-first' ? 'day first' : 'month first';
    notices.push(`Dates are read ${words}: ${evidence.why}.`);
    return evidence.order;
  }
  const first = texts.find((text) => text !== '') ?? '';
  asking.ask('order', layout.headRow + 1, () => ({
    text: `Is “${first}” written day first or month first?`,
    hint: `${evidence.why.charAt(0).toUpperCase()}${evidence.why.slice(1)}. Dates that do not fit the answer are refused.`,
    choices: [
      { value: 'day-first', text: 'Day first' },
      { value: 'month-first', text: 'Month first' },
    ],
  }));
  return given ?? 'day-first';
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
  const reader = rowReader({ farm, layout, order, answers, questions: asking, marks });
  const breathe = yieldLoop();
  const lines: FileLine[] = [];
  for (const [i, cells] of rows.entries()) {
    if (i < layout.headRow) continue;
    lines.push(...readRow(reader, cells, i + 1));
    await breathe();
  }
  return lines;
}

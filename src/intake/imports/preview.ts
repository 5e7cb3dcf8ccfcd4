import type pg from 'pg';
import { localDay } from '../../platform/days.ts';
import { breather } from '../../platform/steps.ts';
import { type DateOrder, orderWatch } from '../file/dates.rules.ts';
import type { Known } from '../file/farm-context.ts';
import { type Layout, layoutFault, layoutOf, placesOf } from '../file/layout.rules.ts';
import { type Line, linesOf } from '../file/lines.rules.ts';
import { type Answers, type Inquiry, inquiry, type Question } from '../file/questions.rules.ts';
import { fileReader } from '../file/row-reader.ts';
import { guessSeparator, readTable, type Separator, separatorNamed } from '../file/table.ts';
import {
  decode,
  type Encoding,
  encodingDoubt,
  encodingNames,
  encodings,
  guessEncoding,
  lineEnds,
} from '../file/text.rules.ts';
import { markPresent } from './duplicates.ts';

/** How a file is read: what was found, and what was said instead. */
export interface Manner {
  encoding: Encoding;
  separator: Separator;
  order: DateOrder | null;
  layout: Layout;
  /** What there is to say of the whole file, a sentence each. */
  notices: string[];
}

/** A file as it would be taken. */
export interface Preview {
  manner: Manner;
  rows: string[][];
  lines: Line[];
  questions: Question[];
  /** Why the file cannot be read at all yet; null when it can. */
  fault: string | null;
}

/** True when everything that is asked is answered, so that the file can be taken. */
export const isSettled = ({ questions, fault }: Pick<Preview, 'questions' | 'fault'>): boolean =>
  fault === null && questions.every((question) => question.answer !== '');

/** Reads a file as it would be taken, and leaves out what is there already. @throws Refusal when the file is no table */
export async function previewFile(
  pool: pg.Pool,
  known: Known,
  content: Uint8Array,
  answers: Answers,
): Promise<Preview> {
  const preview = await readFile(known, content, answers);
  await markPresent(pool, preview.lines);
  return preview;
}

/**
 * Reads a file: every value with its meaning, every fault with its row and column, every doubt as a question. Long files
 * are read in steps, so that others get their turn.
 * @throws Refusal when the file is no table
 */
export async function readFile(known: Known, content: Uint8Array, answers: Answers): Promise<Preview> {
  const breathe = breather();
  const { encoding, text, notices } = asText(content, answers);
  await breathe();
  const separator = separatorNamed(answers.separator) ?? guessSeparator(text);
  await breathe();
  const { rows, unwrapped } = await readTable(text, separator);
  if (unwrapped > 0) notices.push(`${unwrapped} cells were in quotes twice; the inner quotes are taken off.`);
  const layout = layoutOf(rows, answers);
  const asking = inquiry(answers);
  const order = await orderOf(rows, layout, known, answers, asking, notices);
  const fault = layoutFault(layout, answers);
  const lines = fault === null ? await readLines(known, layout, order, answers, asking, rows) : [];
  const beyond = asking.beyond();
  return {
    manner: { encoding, separator, order, layout, notices },
    rows,
    lines,
    questions: asking.questions(),
    fault:
      beyond > 0
        ? 'There is more to ask than anybody can answer. Check below what each column holds.'
        : fault,
  };
}

function asText(content: Uint8Array, answers: Answers) {
  const guess = guessEncoding(content);
  const chosen = encodings.find((one) => one === answers.encoding);
  const encoding = chosen ?? guess.encoding;
  const text = decode(content, encoding);
  const how =
    chosen === undefined
      ? `taken as ${encodingNames[encoding]}: ${guess.why}`
      : `read as ${encodingNames[encoding]}, as chosen`;
  const notices = [`The file is ${how}; ${lineEnds(text)}.`];
  const doubt = encodingDoubt(text);
  if (doubt !== null) notices.push(doubt);
  return { encoding, text, notices };
}

/** Day or month first: by the dates' own evidence, else asked. */
async function orderOf(
  rows: readonly (readonly string[])[],
  layout: Layout,
  known: Known,
  answers: Answers,
  asking: Inquiry,
  notices: string[],
): Promise<DateOrder> {
  const { at } = placesOf(layout);
  const column = at('when') >= 0 ? at('when') : at('date');
  if (column < 0) return 'day-first';
  const texts = rows.slice(layout.headRow).map((row) => row[column] ?? '');
  const watch = orderWatch(localDay(known.now, known.timeZone));
  const breathe = breather();
  for (const text of texts) {
    watch.see(text);
    await breathe();
  }
  const evidence = watch.evidence();
  const said = (['day-first', 'month-first'] as const).find((one) => one === answers.order);
  if (evidence.order === null && evidence.settled) return 'day-first';
  if (evidence.order !== null && said === undefined) {
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
  return said ?? 'day-first';
}

async function readLines(
  known: Known,
  layout: Layout,
  order: DateOrder,
  answers: Answers,
  asking: Inquiry,
  rows: readonly (readonly string[])[],
): Promise<Line[]> {
  const reader = fileReader(known, layout, order, answers, asking);
  const breathe = breather();
  const lines: Line[] = [];
  for (const [i, cells] of rows.entries()) {
    if (i < layout.headRow) continue;
    lines.push(...linesOf(reader, cells, i + 1));
    await breathe();
  }
  return lines;
}

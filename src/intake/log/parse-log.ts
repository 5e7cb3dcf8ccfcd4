import { yieldLoop } from '../../platform/yield-loop.ts';
import { type FileCells, readCells } from '../file/cells.ts';
import { clockChanges, type WrittenTime } from '../file/clock-change.rules.ts';
import { dateOrderOf } from '../file/date-order.ts';
import { momentReader } from '../file/dates.rules.ts';
import { unusedHeads } from '../file/layout.rules.ts';
import { type DecimalMark, shownMark } from '../file/marks.rules.ts';
import { placesOf } from '../file/named-columns.rules.ts';
import { type Answers, type Question, type QuestionList, questionList } from '../file/questions.rules.ts';
import { type LogColumn, type LogLayout, logLayout, logLayoutFault } from './columns.rules.ts';
import { askDoserDays } from './doser-days.rules.ts';
import { entryWords } from './entry-words.rules.ts';
import {
  type Cells,
  cellsOf,
  type FileEntry,
  type LogContext,
  type LogLine,
  type LogReader,
  timeText,
} from './log-reader.rules.ts';
import { readLogRow } from './log-rows.rules.ts';
import { otherKinds } from './mixed.rules.ts';
import { askProducts } from './products.rules.ts';
import { entryKey, markRepeats } from './repeats.rules.ts';
import { askLargeChanges, askLargeFeedings, askUnusualDoses, type KnownDose } from './unusual.rules.ts';

/** A file of what was done as it would be taken. */
export interface ParsedLog {
  format: Pick<FileCells, 'encoding' | 'separator' | 'notices'> & { layout: LogLayout; hasDayOnly: boolean };
  rows: string[][];
  lines: LogLine[];
  questions: Question[];
  /** The heads of columns that nothing is taken of, though they hold something. */
  unused: string[];
  /** Why the file cannot be read at all yet; null when it can. */
  fault: string | null;
}

/**
 * Reads a file of doses, water changes, feedings, or services: every row as the entry it becomes, every fault with its
 * row and column, every doubt as a question. It takes as long as the file is long: a worker does it.
 * @throws Refusal when the file is no table
 */
export async function parseLog(farm: LogContext, content: Uint8Array, answers: Answers): Promise<ParsedLog> {
  const { encoding, separator, rows, notices } = await readCells(content, answers);
  const layout = logLayout(farm.kind, rows, answers);
  const fault = logLayoutFault(farm.kind, layout);
  const questions = questionList(answers);
  const lines = fault === null ? await readLines({ farm, layout, rows, answers, questions, notices }) : [];
  const format = { encoding, separator, layout, notices, hasDayOnly: !placesOf(layout).has('when') };
  const beyond = questions.countUnasked() > 0;
  return {
    ...{ format, rows, lines },
    questions: questions.questions(),
    unused: unusedHeads(layout, rows),
    fault: beyond ? 'There are too many questions to answer. Check below what each column holds.' : fault,
  };
}

interface Reading {
  farm: LogContext;
  layout: LogLayout;
  rows: string[][];
  answers: Answers;
  questions: QuestionList;
  notices: string[];
}

async function readLines({ farm, layout, rows, answers, questions, notices }: Reading): Promise<LogLine[]> {
  const placeOf = placesOf(layout);
  const body = rows.slice(layout.headRow);
  const column = (meaning: LogColumn) => body.map((row) => row[placeOf.get(meaning) ?? -1] ?? '');
  const dates = column(placeOf.has('when') ? 'when' : 'date');
  const order = await dateOrderOf(dates, layout.headRow + 1, farm, { answers, questions, notices });
  const reader: LogReader = {
    farm,
    layout,
    questions,
    decimalMark: markOf(column('amount')),
    momentOf: clockChanges(
      () => body.map((row, i) => writtenTime(cellsOf({ placeOf, layout }, row, layout.headRow + i + 1))),
      momentReader(farm.timeZone, order, answers.noon || '12:00'),
      questions,
    ),
    placeOf,
    otherKind: otherKinds(farm.kind, layout, body, questions),
  };
  const breathe = yieldLoop();
  const lines: LogLine[] = [];
  for (const [i, row] of body.entries()) {
    lines.push(...readLogRow(reader, row, layout.headRow + i + 1));
    await breathe();
  }
  await compareWithPresent(lines, { farm, questions, notices }, breathe);
  for (const line of lines) if (line.parsed !== null) line.words = entryWords(line.parsed, farm);
  return lines;
}

/** What names a series of entries. */
const seriesOf: readonly LogColumn[] = ['system', 'what', 'food', 'device', 'tank'];

const writtenTime = (cells: Cells): WrittenTime => ({
  row: cells.row,
  text: timeText(cells),
  series: seriesOf.map((meaning) => cells.text(meaning)).join('\n'),
});

async function compareWithPresent(
  lines: readonly LogLine[],
  { farm, questions, notices }: Pick<Reading, 'farm' | 'questions' | 'notices'>,
  breathe: () => Promise<void> | undefined,
): Promise<void> {
  const here = presentEntries(farm);
  const counts = new Map<string, number>();
  for (const entry of here) counts.set(entryKey(entry), (counts.get(entryKey(entry)) ?? 0) + 1);
  await breathe();
  markRepeats(lines, counts, questions);
  if (farm.kind === 'doses')
    askDoserDays(
      lines,
      here.filter((entry) => entry.kind === 'doses'),
      farm,
      questions,
    );
  if (farm.kind === 'doses') {
    const doses = here.filter((entry) => entry.kind === 'doses');
    askProducts(lines, doses, farm, { questions, notices });
    await breathe();
    const known = doses.map(knownDose);
    await askUnusualDoses(lines, known, farm, questions, breathe);
  }
  if (farm.kind === 'water_changes') askLargeChanges(lines, farm, questions);
  if (farm.kind === 'feedings') askLargeFeedings(lines, questions);
}

const knownDose = ({ effect, concerns, ...dose }: Extract<FileEntry, { kind: 'doses' }>): KnownDose => ({
  ...dose,
  rise: effect,
  habit: concerns.length === 0,
});

function presentEntries({ present, kind }: LogContext): FileEntry[] {
  const read = JSON.parse(present) as Record<string, unknown>[];
  return read.map((entry) => ({ ...entry, kind, at: new Date(Number(entry.at)) }) as unknown as FileEntry);
}

/** The decimal mark that the amounts show; null where none does, or both are shown. */
function markOf(texts: readonly string[]): DecimalMark | null {
  const shown = new Set(
    texts.map((text) => shownMark(text.replace(/\s*[^\d]*$/, ''))).filter((mark) => mark !== null),
  );
  return shown.size === 1 ? ([...shown][0] ?? null) : null;
}

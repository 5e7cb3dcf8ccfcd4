import { clockChanges, type RowMoment, type WrittenTime } from './clock-change.rules.ts';
import { type DateOrder, momentReader } from './dates.rules.ts';
import type { FarmContext } from './farm-context.ts';
import { type ColumnMeaning, columnMeanings } from './headers.rules.ts';
import { type ColumnLayout, columnIndexes } from './layout.rules.ts';
import type { DecimalMarks } from './marks.rules.ts';
import type { Answers, QuestionList } from './questions.rules.ts';
import { cellAt } from './sheet-shape.rules.ts';
import { type UnitReader, unitReader } from './units.rules.ts';

/** All that is needed to read one file's rows. */
export interface RowReader {
  farm: FarmContext;
  layout: ColumnLayout;
  columns: ReturnType<typeof columnIndexes>;
  answers: Answers;
  questions: QuestionList;
  marks: DecimalMarks;
  /** The moment that a row's text means. */
  momentOf(row: number, text: string): RowMoment;
  readUnit: UnitReader;
  /** True when a column has this meaning. */
  has(meaning: ColumnMeaning): boolean;
  /** The row's cell under this meaning; '' when there is none. */
  cell(cells: readonly string[], meaning: ColumnMeaning): string;
  /** The same, else the answer for the whole file. */
  cellOrAnswer(cells: readonly string[], meaning: ColumnMeaning): string;
}

/** What a file's rows are read by. */
type ReadBy = Pick<RowReader, 'farm' | 'layout' | 'answers' | 'questions' | 'marks'> & {
  order: DateOrder;
  /** All rows of the file, its head among them. */
  rows: readonly (readonly string[])[];
};

export function rowReader({ farm, layout, order, answers, questions, marks, rows }: ReadBy): RowReader {
  const columns = columnIndexes(layout);
  const index = new Map(
    (Object.keys(columnMeanings) as ColumnMeaning[]).map((meaning) => [meaning, columns.at(meaning)]),
  );
  const has = (meaning: ColumnMeaning) => (index.get(meaning) ?? -1) >= 0;
  const cell = (cells: readonly string[], meaning: ColumnMeaning) =>
    cellAt(cells, index.get(meaning) ?? -1, meaning);
  return {
    farm,
    layout,
    columns,
    answers,
    questions,
    marks,
    momentOf: clockChanges(
      writtenTimes({ cell }, rows, layout.headRow),
      momentReader(farm.timeZone, order, answers.noon || '12:00'),
      questions,
    ),
    readUnit: unitReader(questions),
    has,
    cell,
    cellOrAnswer: (cells, meaning) => cell(cells, meaning) || (answers[meaning] ?? '').trim(),
  };
}

/** The time of a row as it is written; '' where none is. */
export const timeText = ({ cell }: Pick<RowReader, 'cell'>, cells: readonly string[]): string =>
  cell(cells, 'when') || `${cell(cells, 'date')} ${cell(cells, 'time')}`.trim();

/** What names a series of readings, beside the columns of a wide file. */
const seriesOf: readonly ColumnMeaning[] = ['system', 'quantity', 'method', 'kit', 'laboratory'];

const writtenTimes =
  (
    reader: Pick<RowReader, 'cell'>,
    rows: readonly (readonly string[])[],
    headRow: number,
  ): (() => WrittenTime[]) =>
  () =>
    rows.slice(headRow).map((cells, i) => ({
      row: headRow + i + 1,
      text: timeText(reader, cells),
      series: seriesOf.map((meaning) => reader.cell(cells, meaning)).join('\n'),
    }));

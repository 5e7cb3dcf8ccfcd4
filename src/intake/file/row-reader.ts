import { cellAt } from './cell-length.rules.ts';
import { type DateOrder, type FileMoment, momentReader } from './dates.rules.ts';
import type { FarmContext } from './farm-context.ts';
import { type ColumnMeaning, columnMeanings } from './headers.rules.ts';
import { type ColumnLayout, columnIndexes } from './layout.rules.ts';
import type { DecimalMarks } from './marks.rules.ts';
import type { Answers, QuestionList } from './questions.rules.ts';
import { type UnitReader, unitReader } from './units.rules.ts';

/** All that is needed to read one file's rows. */
export interface RowReader {
  farm: FarmContext;
  layout: ColumnLayout;
  columns: ReturnType<typeof columnIndexes>;
  answers: Answers;
  questions: QuestionList;
  marks: DecimalMarks;
  readMoment(text: string): FileMoment;
  readUnit: UnitReader;
  /** True when a column has this meaning. */
  has(meaning: ColumnMeaning): boolean;
  /** The row's cell under this meaning; '' when there is none. */
  cell(cells: readonly string[], meaning: ColumnMeaning): string;
  /** The same, else the answer for the whole file. */
  cellOrAnswer(cells: readonly string[], meaning: ColumnMeaning): string;
}

/** What a file's rows are read by. */
type ReadBy = Pick<RowReader, 'farm' | 'layout' | 'answers' | 'questions' | 'marks'> & { order: DateOrder };

export function rowReader({ farm, layout, order, answers, questions, marks }: ReadBy): RowReader {
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
    readMoment: momentReader(farm.timeZone, order, answers.noon || '12:00'),
    readUnit: unitReader(questions),
    has,
    cell,
    cellOrAnswer: (cells, meaning) => cell(cells, meaning) || (answers[meaning] ?? '').trim(),
  };
}

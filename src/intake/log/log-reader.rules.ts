import type { Quantity } from '../../water/quantities/quantities.ts';
import type { RowMoment } from '../file/clock-change.rules.ts';
import type { DecimalMark } from '../file/marks.rules.ts';
import type { NotTaken, QuestionList } from '../file/questions.rules.ts';
import { cellAt } from '../file/sheet-shape.rules.ts';
import type { LogColumn, LogLayout } from './columns.rules.ts';
import type { LogKind } from './kinds.rules.ts';

/** What the names in a file of what was done are looked up in, and what is here already. */
export interface LogContext {
  kind: LogKind;
  now: Date;
  timeZone: string;
  /** Retired ones too, since a file may hold their history. */
  systems: { id: string; name: string; volumeL: number; makeUp: Record<string, number> }[];
  tanks: { id: string; name: string; systemId: string }[];
  devices: { id: string; name: string; systemId: string; isCircuit: boolean }[];
  quantities: Quantity[];
  /** What is here of this kind, as JSON: one object an entry (see `log-context.ts`). */
  present: string;
}

/** When, where and by whom. */
export interface Done {
  systemId: string;
  at: Date;
  doneBy: string;
  note: string;
}

export interface FileDose extends Done {
  kind: 'doses';
  substance: string;
  amount: number;
  unit: string;
  quantityCode: string | null;
  /** Rise in the canonical unit. */
  effect: number | null;
  concerns: string[];
  reason: string;
  /** The doser whose plan logged it, of what is here; null where none did. */
  doser?: string | null;
  /** Nobody has said what it raises, or by how much, nor that this is not known. */
  unsaid?: boolean;
}
export interface FileChange extends Done {
  kind: 'water_changes';
  volumeL: number;
  makeUp: Record<string, number> | null;
}
export interface FileFeeding extends Done {
  kind: 'feedings';
  food: string;
  amountG: number | null;
  tankId: string | null;
  pumpsOffMin: number | null;
  response: string;
}
export interface FileUpkeep extends Done {
  kind: 'upkeep';
  equipmentId: string | null;
  circuitId: string | null;
  work: 'service' | 'test';
}
export type FileEntry = FileDose | FileChange | FileFeeding | FileUpkeep;

/** What becomes of a row, or of one of its cells. */
export interface LogLine {
  row: number;
  /** The column's head; '' for the whole row. */
  column: string;
  text: string;
  state: 'taken' | 'present' | NotTaken['state'];
  reason: string;
  /** What would be logged, in words; '' where nothing is. */
  words: string;
  parsed: FileEntry | null;
}

/** All that is needed to read one file's rows. */
export interface LogReader {
  farm: LogContext;
  layout: LogLayout;
  questions: QuestionList;
  /** The decimal mark that the column of amounts shows; null where it leaves it open. */
  decimalMark: DecimalMark | null;
  /** The moment that a row's text means. */
  momentOf(row: number, text: string): RowMoment;
  placeOf: ReadonlyMap<LogColumn, number>;
  /** Why a row that reads like another kind of entry is not taken; null where it is. */
  otherKind(row: readonly string[], number: number): NotTaken | null;
}

/** One row by what its columns mean. */
export interface Cells {
  row: number;
  text(meaning: LogColumn): string;
  head(meaning: LogColumn): string;
  /** The unit that the column's head names in brackets. */
  headUnit(meaning: LogColumn): string;
}

export function cellsOf(
  { placeOf, layout }: Pick<LogReader, 'placeOf' | 'layout'>,
  cells: readonly string[],
  row: number,
): Cells {
  const index = (meaning: LogColumn) => placeOf.get(meaning) ?? -1;
  return {
    row,
    text: (meaning) => cellAt(cells, index(meaning), meaning),
    head: (meaning) => layout.columns[index(meaning)]?.head || meaning,
    headUnit: (meaning) => layout.columns[index(meaning)]?.unit ?? '',
  };
}

/** The time of a row as it is written; '' where none is. */
export const timeText = (cells: Cells): string =>
  cells.text('when') || `${cells.text('date')} ${cells.text('time')}`.trim();

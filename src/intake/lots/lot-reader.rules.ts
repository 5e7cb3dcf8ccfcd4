import type { KindFinder } from '../../stock/kinds/kind-names.rules.ts';
import type { FileMoment } from '../file/dates.rules.ts';
import type { Answers, NotTaken, QuestionList } from '../file/questions.rules.ts';
import { cellAt } from '../file/sheet-shape.rules.ts';
import type { LotColumnMeaning, LotLayout } from './columns.rules.ts';
import type { KnownLot, StockContext } from './lot-context.ts';

/** The lot that a row becomes. */
export interface FileLot {
  ownCode: string;
  tradeName: string;
  kindId: string;
  kindName: string;
  pieces: number;
  isMother: boolean;
  /** The lot it was cut from: one of the farm, or one of an earlier or later row. */
  mother: { lotId: string } | { row: number } | null;
  place: { systemId: string; slotIds: string[]; words: string } | null;
  sizeMm: number | null;
  receivedAt: Date;
  origin: string;
  permit: string;
  priceMinor: number | null;
  note: string;
  /** Tells the row from all others, whatever file it stands in. */
  importRow: string;
}

/** What becomes of a row, or of one of its cells. */
export interface LotLine {
  row: number;
  /** The column's head; '' for the whole row. */
  column: string;
  text: string;
  state: 'taken' | 'present' | NotTaken['state'];
  reason: string;
  parsed: FileLot | null;
}

/** A name of the file whose kind is asked for. */
export interface KindQuestion {
  id: string;
  name: string;
  /** The kind whose name is most like it, and whether it is likely meant. */
  suggestion: { name: string; isLikely: boolean } | null;
  /** What was answered; '' while it is open. */
  answer: string;
  rows: number[];
  count: number;
}

/** All that is needed to read one file's rows. */
export interface LotReader {
  stock: StockContext;
  layout: LotLayout;
  answers: Answers;
  questions: QuestionList;
  kindQuestions: Map<string, KindQuestion>;
  finder: KindFinder;
  readMoment(text: string): FileMoment;
  /** Where each meaning's column is. */
  columnOf: ReadonlyMap<LotColumnMeaning, number>;
  /** The currency that stands beside the file's prices; '' where none does. */
  currencySaid: string;
  /** Lots of the farm by what they may be called. */
  known: ReadonlyMap<string, KnownLot>;
  /** Lots of the farm by the codes that the service gave them. */
  given: ReadonlyMap<string, KnownLot>;
  /** Rows of the file by their own codes, and by those the service gave them where they came from. */
  rowsByCode: ReadonlyMap<string, number>;
  /** Rows and living lots of the farm by their trade names, as code keys: what a mother may be called. */
  rowsByName: ReadonlyMap<string, readonly number[]>;
  lotsByName: ReadonlyMap<string, readonly KnownLot[]>;
  /** Rows that took a slot, by the slot. */
  slotsTaken: Map<string, number>;
  /** How often a row's content came up so far. */
  seen: Map<string, number>;
  cameBefore: ReadonlyMap<string, KnownLot>;
}

/** An own code without case and spaces, as the database compares them. */
export const codeKey = (code: string) => code.replace(/\s/g, '').toLowerCase();

/** One row by what its columns mean. */
export interface Cells {
  text(meaning: LotColumnMeaning): string;
  has(meaning: LotColumnMeaning): boolean;
  head(meaning: LotColumnMeaning): string;
}

export function cellsOf(reader: LotReader, cells: readonly string[]): Cells {
  const index = (meaning: LotColumnMeaning) => reader.columnOf.get(meaning) ?? -1;
  return {
    text: (meaning) => cellAt(cells, index(meaning), meaning),
    has: (meaning) => index(meaning) >= 0,
    head: (meaning) => reader.layout.columns[index(meaning)]?.head || meaning,
  };
}

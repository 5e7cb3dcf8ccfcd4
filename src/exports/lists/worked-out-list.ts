import { createHash } from 'node:crypto';
import type { CsvCell } from '../../platform/csv.ts';
import {
  type Ask,
  type ColumnType,
  type ExportedList,
  goneCursor,
  type ListPage,
  type ListWords,
  type PageAsked,
} from './list.ts';

/** The types of the columns that are not text. */
interface Types {
  numbers?: readonly string[];
  times?: readonly string[];
  yesOrNo?: readonly string[];
}

/** Columns in the order of their names, text but for those that are named. */
export const columnTypes = (
  heads: readonly string[],
  { numbers = [], times = [], yesOrNo = [] }: Types,
): ColumnType[] =>
  heads.map((name) => ({
    name,
    type: numbers.includes(name)
      ? 'number'
      : times.includes(name)
        ? 'time'
        : yesOrNo.includes(name)
          ? 'yes or no'
          : 'text',
  }));

/** Gives each row in a few signs, by which it is found again: of equal rows the second is not the first. */
function marker(): (cells: readonly CsvCell[]) => string {
  const seen = new Map<string, number>();
  return (cells) => {
    const hash = createHash('sha256').update(JSON.stringify(cells)).digest('base64url').slice(0, 27);
    const count = (seen.get(hash) ?? 0) + 1;
    seen.set(hash, count);
    return `${hash}.${count}`;
  };
}

/**
 * A list whose rows are worked out in code: a page of it reads the list from its beginning. It begins behind the row that
 * the page before ended with, wherever that stands now.
 */
export function workedOutList(
  words: ListWords,
  columns: readonly ColumnType[],
  rows: (ask: Ask) => AsyncIterable<CsvCell[][]>,
): ExportedList {
  return {
    ...words,
    rows,
    columns: async () => columns,
    page: (ask, asked) => pageOf(columns, rows(ask), asked),
  };
}

async function pageOf(
  columns: readonly ColumnType[],
  pieces: AsyncIterable<CsvCell[][]>,
  { after, limit }: PageAsked,
): Promise<ListPage> {
  const markOf = marker();
  const rows: CsvCell[][] = [];
  let isHead = true;
  let isThere = after === null;
  let last: string | null = null;
  for await (const piece of pieces) {
    const cells = isHead ? piece.slice(1) : piece;
    isHead = false;
    for (const row of cells) {
      const mark = markOf(row);
      if (!isThere) isThere = mark === after;
      else if (rows.length === limit) return { columns, rows, next: last };
      else {
        rows.push(row);
        last = mark;
      }
    }
  }
  if (!isThere) throw goneCursor();
  return { columns, rows, next: null };
}

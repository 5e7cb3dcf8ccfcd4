import type { z } from 'zod';
import type { CsvCell } from '../../platform/csv.ts';
import {
  type Ask,
  type ColumnType,
  type ExportedList,
  goneCursor,
  type ListPage,
  type ListWords,
  type PageAsked,
  wrongCursor,
} from './list.ts';

/** Rows read at a time for a file: enough to be quick, few enough that a list of any length fits (own choice). */
const rowsAtOnce = 500;

/** A row, and the place of it in the list's own order. */
export interface PlacedRow<Place> {
  place: Place;
  cells: CsvCell[];
}

/** At most `limit` rows behind a place (null: from the beginning), read in a fixed number of queries. */
export type ReadBehind<Place> = (
  ask: Ask,
  after: Place | null,
  limit: number,
) => Promise<readonly PlacedRow<Place>[]>;

/**
 * A list whose rows are worked out in code from rows that the database finds by their place: a page costs its own rows,
 * however long the list is and however far in the page lies. What comes or goes meanwhile neither repeats nor hides any
 * other row.
 */
export function keyedList<Place>(
  words: ListWords,
  columns: readonly ColumnType[],
  placeSchema: z.ZodType<Place>,
  read: ReadBehind<Place>,
): ExportedList {
  const heads = columns.map(({ name }) => name);
  return {
    ...words,
    rows: (ask) => allRows(heads, ask, read),
    columns: async () => columns,
    page: (ask, asked) => pageOf(columns, placeSchema, read, ask, asked),
  };
}

async function* allRows<Place>(
  heads: readonly string[],
  ask: Ask,
  read: ReadBehind<Place>,
): AsyncGenerator<CsvCell[][]> {
  yield [[...heads]];
  for (let after: Place | null = null; ; ) {
    const rows: readonly PlacedRow<Place>[] = await read(ask, after, rowsAtOnce);
    if (rows.length > 0) yield rows.map(({ cells }) => cells);
    if (rows.length < rowsAtOnce) return;
    after = rows.at(-1)?.place ?? null;
  }
}

async function pageOf<Place>(
  columns: readonly ColumnType[],
  placeSchema: z.ZodType<Place>,
  read: ReadBehind<Place>,
  ask: Ask,
  { after, limit }: PageAsked,
): Promise<ListPage> {
  // One row more tells whether there is another page.
  const rows = await read(ask, after === null ? null : placeIn(after, placeSchema), limit + 1);
  const some = rows.slice(0, limit);
  return {
    columns,
    rows: some.map(({ cells }) => cells),
    next: rows.length > limit ? JSON.stringify(some.at(-1)?.place) : null,
  };
}

/** @throws Refusal 422 for what is no place of this list */
function placeIn<Place>(text: string, schema: z.ZodType<Place>): Place {
  try {
    return schema.parse(JSON.parse(text));
  } catch {
    throw wrongCursor();
  }
}

/**
 * What of some things in their order a page still has to read: from the thing of its place on.
 * @throws Refusal 409 where that thing has gone
 */
export function fromPlace<T>(things: readonly T[], isIt: ((thing: T) => boolean) | null): readonly T[] {
  if (isIt === null) return things;
  const at = things.findIndex(isIt);
  if (at === -1) throw goneCursor();
  return things.slice(at);
}

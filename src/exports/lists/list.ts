import type { FastifyRequest } from 'fastify';
import type { CsvCell } from '../../platform/csv.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import type { RouteAccess } from '../../platform/web/access.ts';

/** What a list is asked for: always one site's. */
export interface Ask {
  service: Service;
  site: FastifyRequest['site'];
  now: Date;
}

/** Where a list is named and found. */
export interface ListWords {
  /** Its file's name and address: "stock" is /export/stock.csv, and /api/v1/lists/stock for programs. */
  slug: string;
  title: string;
  /** What one row is, and what reads the file. */
  what: string;
  access: RouteAccess;
  /** No access key reads it. */
  closedToKeys?: boolean;
}

/** A column as programs read it; each may be empty. */
export interface ColumnType {
  name: string;
  type: 'text' | 'number' | 'time' | 'yes or no';
}

/** Where a page of a list begins, and how many rows it has at most. */
export interface PageAsked {
  /** As the page before said; null: at the beginning. */
  after: string | null;
  limit: number;
}

/** Rows of a list for programs: canonical, under names that no setting of the site changes. */
export interface ListPage {
  columns: readonly ColumnType[];
  rows: CsvCell[][];
  /** Behind which the next page begins; null at the end. */
  next: string | null;
}

/** A list that goes out: as CSV whole, for programs page by page. */
export interface ExportedList extends ListWords {
  /** The head, then the rows in pieces, read while they are sent. */
  rows(ask: Ask): AsyncIterable<CsvCell[][]>;
  /** The columns of its pages. */
  columns(ask: Ask): Promise<readonly ColumnType[]>;
  /** @throws Refusal 409 where the row behind which it begins is gone */
  page(ask: Ask, asked: PageAsked): Promise<ListPage>;
}

/** A cursor that is none of this list. */
export const wrongCursor = () =>
  new Refusal('This is no cursor of this list. Take “next” of the page before as it is.', {
    field: 'cursor',
  });

/** A cursor behind something that is not there any more. */
export const goneCursor = () =>
  new Refusal(
    'The row behind which this page begins was changed or has gone. Read the list from its beginning.',
    { status: 409 },
  );

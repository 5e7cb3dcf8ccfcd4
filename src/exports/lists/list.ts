import type { FastifyRequest } from 'fastify';
import type { CsvCell } from '../../platform/csv.ts';
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
  /** Its file's name and address: "stock" is /export/stock.csv. */
  slug: string;
  title: string;
  /** What one row is, and what reads the file. */
  what: string;
  access: RouteAccess;
}

/** A list that goes out as CSV. */
export interface ExportedList extends ListWords {
  /** The head, then the rows in pieces, read while they are sent. */
  rows(ask: Ask): AsyncIterable<CsvCell[][]>;
}

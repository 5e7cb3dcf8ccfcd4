import type { FastifyRequest } from 'fastify';
import type pg from 'pg';
import { whoDid } from '../../platform/database/who-did.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { numberWords } from '../../platform/words/numbers.ts';

/** The part of a system's log that is asked for; both ends included, newest first. */
export interface LogQuery {
  systemId: string;
  from?: Date;
  to?: Date;
  /** At most this many (200 unless given), and how many of the newest to skip. */
  limit?: number;
  offset?: number;
  /** Only those behind the place of an entry. */
  after?: LogPlace | null;
  withVoided?: boolean;
}

/** Where an entry stands in its log: when it was done, its id. */
export type LogPlace = readonly [at: string, id: string];

export const placeOfEntry = ({ at, id }: LogEntry): LogPlace => [at.toISOString(), id];

const defaultLimit = 200;

/** What every entry of a log has. */
export interface LogEntry {
  id: string;
  systemId: string;
  at: Date;
  /** Who did it; null for the service itself, and where a file names nobody. */
  by: string | null;
  /** When it was entered, where that was later than an hour after it was done; else null. */
  enteredLateAt: Date | null;
  voidedAt: Date | null;
  voidReason: string | null;
}

/** The columns that every entry of a log has. */
const commonColumns = `entry.id, entry.system_id AS "systemId", entry.at, ${whoDid('entry', 'done_by')} AS by,
  CASE WHEN entry.created_at > entry.at + interval '1 hour' THEN entry.created_at END AS "enteredLateAt", entry.voided_at AS "voidedAt", entry.void_reason AS "voidReason"`;

/**
 * The newest entries of one of the log's tables. `source` names the table: "FROM dose AS entry"; `columns`: those of this
 * table alone. One query.
 */
export async function readLog<T extends LogEntry>(
  pool: pg.Pool,
  source: string,
  columns: string,
  { systemId, from = new Date(0), to = new Date(Date.UTC(9999, 0)), ...rest }: LogQuery,
  joins = '',
): Promise<T[]> {
  const { limit = defaultLimit, offset = 0, withVoided = false, after = null } = rest;
  const sql = `
    SELECT ${commonColumns}, ${columns} ${source} LEFT JOIN account ON account.id = entry.account_id ${joins}
     WHERE entry.system_id = $1 AND entry.at BETWEEN $2 AND $3 AND ($5 OR entry.voided_at IS NULL)
       AND ($7::timestamptz IS NULL OR (entry.at, entry.id) < ($7::timestamptz, $8::uuid))
     ORDER BY entry.at DESC, entry.id DESC LIMIT $4 OFFSET $6`;
  const values = [systemId, from, to, limit, withVoided, offset, ...(after ?? [null, null])];
  return (await pool.query<T>(sql, values)).rows;
}

const perPage = 20;

/** One page of a log, newest first, with links to the pages before and after it. */
export interface PaginatedLog<T> {
  entries: T[];
  pager: { newer: string; older: string; text: string };
}

/** The page of a log that the address asks for ("?page=2"). `list` is asked for one entry more than fits: it shows whether there are older ones. */
export async function paginateLog<T>(
  request: FastifyRequest,
  systemId: string,
  list: (query: LogQuery) => Promise<T[]>,
): Promise<PaginatedLog<T>> {
  const page = pageNumber().parse((request.query as { page?: unknown }).page);
  const offset = (page - 1) * perPage;
  const found = await list({ systemId, withVoided: true, limit: perPage + 1, offset });
  const entries = found.slice(0, perPage);
  const address = (number: number) => `?page=${number}`;
  return {
    entries,
    pager: {
      newer: page > 1 ? address(page - 1) : '',
      older: found.length > perPage ? address(page + 1) : '',
      text:
        entries.length === 0 ? '' : `${numberWords(offset + 1)} to ${numberWords(offset + entries.length)}`,
    },
  };
}

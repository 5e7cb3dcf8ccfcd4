import type { FastifyRequest } from 'fastify';
import type pg from 'pg';
import { numberWords } from '../../platform/words/numbers.ts';

/** Which part of a system's log; both ends included, newest first. */
export interface LogQuestion {
  systemId: string;
  from?: Date;
  to?: Date;
  /** At most this many (200 when left out), and how many of the newest are passed over. */
  limit?: number;
  offset?: number;
  withVoided?: boolean;
}

/** What every entry of a log has. */
export interface LogEntry {
  id: string;
  systemId: string;
  at: Date;
  /** Who entered it; null for the service itself. */
  by: string | null;
  voidedAt: Date | null;
  voidReason: string | null;
}

const common = `entry.id, entry.system_id AS "systemId", entry.at, account.name AS by, entry.voided_at AS "voidedAt", entry.void_reason AS "voidReason"`;

/** The newest entries of one of the log's tables; `source` names it: "FROM dose AS entry"; `columns` are its own. One query. */
export async function readLog<T extends LogEntry>(
  pool: pg.Pool,
  source: string,
  columns: string,
  question: LogQuestion,
  joins = '',
): Promise<T[]> {
  const {
    systemId,
    from = new Date(0),
    to = new Date(Date.UTC(9999, 0)),
    limit = 200,
    offset = 0,
    withVoided = false,
  } = question;
  const query = `
    SELECT ${common}, ${columns} ${source} LEFT JOIN account ON account.id = entry.account_id ${joins}
     WHERE entry.system_id = $1 AND entry.at BETWEEN $2 AND $3 AND ($5 OR entry.voided_at IS NULL)
     ORDER BY entry.at DESC, entry.id DESC LIMIT $4 OFFSET $6`;
  return (await pool.query<T>(query, [systemId, from, to, limit, withVoided, offset])).rows;
}

const perPage = 50;

/** One page of a log, newest first, and the way to the others. */
export interface LogPage<T> {
  entries: T[];
  pager: { newer: string; older: string; text: string };
}

/** The page of a log that the address asks for ("?page=2"); `list` is asked for one entry more, which tells whether there are older ones. */
export async function logPage<T>(
  request: FastifyRequest,
  systemId: string,
  list: (question: LogQuestion) => Promise<T[]>,
): Promise<LogPage<T>> {
  const { page: asked = '' } = request.query as { page?: string };
  const page = /^[1-9]\d{0,4}$/.test(asked) ? Number(asked) : 1;
  const offset = (page - 1) * perPage;
  const found = await list({ systemId, withVoided: true, limit: perPage + 1, offset });
  const entries = found.slice(0, perPage);
  const address = (to: number) => `?page=${to}`;
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

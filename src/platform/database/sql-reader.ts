import type pg from 'pg';
import type { Tx } from '../service.ts';

/**
 * What runs a query that only reads. The service's pool is one; {@link readerOf} makes one of a transaction, so that
 * the same function serves a page and a change.
 */
export interface SqlReader {
  /** @param values for $1, $2 ...; inside a transaction a uuid needs its cast, as in `$1::uuid` */
  query<Row extends pg.QueryResultRow>(sql: string, values?: readonly unknown[]): Promise<{ rows: Row[] }>;
}

/** Reads inside a transaction: sees what the change has written. One query at a time, since they share a connection. */
export function readerOf(tx: Tx): SqlReader {
  let last: Promise<unknown> = Promise.resolve();
  return {
    async query<Row extends pg.QueryResultRow>(sql: string, values: readonly unknown[] = []) {
      const rows = last.then(() => tx.$queryRawUnsafe<Row[]>(sql, ...values));
      last = rows.catch(() => undefined);
      return { rows: await rows };
    },
  };
}

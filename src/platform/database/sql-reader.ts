import type pg from 'pg';
import type { Tx } from '../service.ts';

/** A change's own transaction for functions that read by the pool: they see what the change wrote, one query at a time. */
export function poolOf(tx: Tx): pg.Pool {
  let last: Promise<unknown> = Promise.resolve();
  const query = async (sql: string, values: readonly unknown[] = []) => {
    const rows = last.then(() => tx.$queryRawUnsafe<unknown[]>(sql, ...values));
    last = rows.catch(() => undefined);
    return { rows: await rows };
  };
  return { query } as unknown as pg.Pool;
}

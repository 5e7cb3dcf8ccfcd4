import type pg from 'pg';
import type { Tx } from '../platform/service.ts';

/** A change's own transaction for functions that read by the pool: they see what the change wrote. */
export function poolOf(tx: Tx): pg.Pool {
  const query = async (sql: string, values: readonly unknown[] = []) => ({
    rows: await tx.$queryRawUnsafe<unknown[]>(sql, ...values),
  });
  return { query } as unknown as pg.Pool;
}

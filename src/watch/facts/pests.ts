import type pg from 'pg';
import { watchesOf } from '../../stock/pests/state.ts';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import type { Span } from '../../water/record/span.ts';
import type { PestFact } from './types.ts';

/** The watches for pests that run or ended within the span, oldest first, by system. One query. */
export async function loadPests(
  pool: pg.Pool,
  systemIds: readonly string[],
  { from, now }: Span,
): Promise<Map<string, PestFact[]>> {
  const rows = await watchesOf(pool, systemIds, now, from);
  return groupBySystem(rows, (row) => ({
    ...row,
    systemId: rows.find(({ id }) => id === row.id)?.systemId ?? '',
  }));
}

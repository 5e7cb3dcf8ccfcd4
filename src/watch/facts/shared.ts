import type pg from 'pg';
import { groupBySystem } from '../../water/record/group-by-system.ts';
import type { Span } from '../../water/record/span.ts';
import type { SharedResult } from '../affected/result.rules.ts';
import type { SharedFact } from './types.ts';

const query = `
  SELECT system.id AS "systemId", scan.at, found.result FROM affected_scan AS scan JOIN system ON system.site_id = scan.site_id
   CROSS JOIN LATERAL jsonb_array_elements(scan.result) AS found(result)
   WHERE system.id = ANY($1) AND scan.at <= $2 AND found.result ->> 'systemId' = system.id::text
   ORDER BY found.result ->> 'sign'`;

/** What the affected lots of a site share, told in the system that most of them stood in. One query. */
export async function loadShared(
  pool: pg.Pool,
  systemIds: readonly string[],
  { now }: Span,
): Promise<Map<string, SharedFact[]>> {
  const { rows } = await pool.query<{ systemId: string; at: Date; result: SharedResult }>(query, [
    systemIds,
    now,
  ]);
  return groupBySystem(rows, ({ at, result }) => ({ ...result, at: at.toISOString() }));
}

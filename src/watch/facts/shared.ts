import type pg from 'pg';
import type { Span } from '../../water/record/span.ts';
import type { SharedResult } from '../affected/result.rules.ts';
import type { SharedFact } from './types.ts';

const query = `
  SELECT system.id AS "systemId", scan.at, scan.result FROM affected_scan AS scan JOIN system ON system.site_id = scan.site_id
   WHERE system.id = ANY($1) AND scan.at <= $2 AND scan.result ->> 'systemId' = system.id::text`;

/** What the affected lots of a site share, told in the system that most of them stood in. One query. */
export async function loadShared(
  pool: pg.Pool,
  systemIds: readonly string[],
  { now }: Span,
): Promise<Map<string, SharedFact | null>> {
  const { rows } = await pool.query<{ systemId: string; at: Date; result: SharedResult }>(query, [
    systemIds,
    now,
  ]);
  return new Map(rows.map(({ systemId, at, result }) => [systemId, { ...result, at: at.toISOString() }]));
}

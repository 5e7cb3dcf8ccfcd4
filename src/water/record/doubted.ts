import type pg from 'pg';
import { groupBySystem } from './group-by-system.ts';
import { sqlMs, timeOf } from './times.ts';
import type { DoubtedSource } from './types.ts';

const doubtedQuery = `
  SELECT system_id AS "systemId", quantity_code AS code, method_id AS "methodId", kit_id AS "kitId", ${sqlMs('since')}
    FROM probe_doubt WHERE system_id = ANY($1::uuid[]) AND since <= $2`;

/** The probes that were found without a vote when they were last judged, by system. One query. */
export async function loadDoubted(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<Map<string, DoubtedSource[]>> {
  type Row = Omit<DoubtedSource, 'sinceDay'> & { systemId: string; ms: number };
  const { rows } = await pool.query<Row>(doubtedQuery, [systemIds, now]);
  return groupBySystem(rows, ({ ms, ...row }) => ({ ...row, sinceDay: timeOf(ms).day }));
}

import type pg from 'pg';

/** An open alert about a system, as lists and pages show it. */
export interface SystemAlert {
  id: string;
  rule: string;
  systemId: string;
  severity: 'now' | 'today' | 'watch';
  title: string;
}

const query = `
  SELECT id, rule, system_id AS "systemId", severity::text, title FROM open_alert
   WHERE system_id = ANY($1::uuid[]) AND cause_id IS NULL AND (put_off_until IS NULL OR put_off_until <= $2)
   ORDER BY severity, opened_at, id`;

/**
 * The open alerts of these systems, most urgent first. Left out are those put off until later than `now`, and those that
 * another alert explains. One query.
 */
export async function openAlertsOf(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<SystemAlert[]> {
  return (await pool.query<SystemAlert>(query, [systemIds, now])).rows;
}

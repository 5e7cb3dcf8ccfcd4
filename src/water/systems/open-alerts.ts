import type pg from 'pg';

/** An open alert that asks something of a system. */
export interface Ask {
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

/** What is asked of systems now, most urgent first: open alerts that nobody put off and no other one explains. */
export async function openAsks(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<Ask[]> {
  return (await pool.query<Ask>(query, [systemIds, now])).rows;
}

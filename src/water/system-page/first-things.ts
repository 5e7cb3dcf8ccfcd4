import type pg from 'pg';
import { type FirstThing, firstThings, type ToldAlert } from './first-things.rules.ts';

const query = `
  WITH told AS (
    SELECT id, title, severity, opened_at, cause_id, finding->'advice' AS advice FROM open_alert
     WHERE system_id = $1::text::uuid AND severity IN ('now', 'today') AND quiet_since IS NULL
       AND (put_off_until IS NULL OR put_off_until <= $2))
  SELECT id, title, severity::text, advice, cause_id IS NOT NULL AND cause_id IN (SELECT id FROM told) AS "isExplained"
    FROM told ORDER BY severity, opened_at, id`;

/** What is done first in a system, by the advice of all its open alerts. One query. */
export async function readFirstThings(pool: pg.Pool, systemId: string, now: Date): Promise<FirstThing[]> {
  return firstThings((await pool.query<ToldAlert>(query, [systemId, now])).rows);
}

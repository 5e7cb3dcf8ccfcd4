import type pg from 'pg';
import { stillAfterMs } from '../../alerts/gaps/gaps.rules.ts';
import { worstFirst } from '../../alerts/order.ts';

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
   ORDER BY ${worstFirst('open_alert')}`;

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

/** A site's systems, and how many of them want something today. */
export interface AlertSum {
  systems: number;
  /** Systems with an alert for now or today that nothing else explains and nobody put off. */
  withAlerts: number;
  /** Systems that the watch did not look at lately, or cannot judge in all. */
  unwatched: number;
  /** When each alert that is put off comes back, the next first. */
  putOff: Date[];
}

const sumQuery = `
  WITH own AS (SELECT id, coalesce(judged_at < $3 OR cardinality(broken) > 0, created_at < $3) AS unwatched
                 FROM system LEFT JOIN system_watch ON system_id = id WHERE site_id = $1 AND retired_at IS NULL),
  open AS (SELECT system_id, severity, put_off_until, coalesce(put_off_until > $2, false) AS off
             FROM open_alert WHERE system_id IN (SELECT id FROM own) AND cause_id IS NULL)
  SELECT (SELECT count(*)::int FROM own) AS systems,
         (SELECT count(*)::int FROM own WHERE unwatched) AS unwatched,
         (SELECT count(DISTINCT system_id)::int FROM open WHERE NOT off AND severity <> 'watch') AS "withAlerts",
         coalesce((SELECT array_agg(put_off_until ORDER BY put_off_until) FROM open WHERE off), '{}') AS "putOff"`;

/** How many systems a site has, how many of them have alerts for today, and what is put off. One query. */
export async function alertSumOf(pool: pg.Pool, siteId: string, now: Date): Promise<AlertSum> {
  const { rows } = await pool.query<AlertSum>(sumQuery, [
    siteId,
    now,
    new Date(now.getTime() - stillAfterMs),
  ]);
  return rows[0] ?? { systems: 0, withAlerts: 0, unwatched: 0, putOff: [] };
}

import type pg from 'pg';
import type { LedgerReason } from '../generated/prisma/enums.ts';
import type { DigestAlert } from './content.ts';

/** Standing readings of one system as one line needs them, canonical units. */
export interface SystemFacts {
  id: string;
  name: string;
  volumeL: number;
  alerts: number;
  latest: { quantityCode: string; value: number; at: Date; below: boolean }[];
  /** Alkalinity's range over seven days of standing readings; null with fewer than three. */
  swing: number | null;
  /** Alkalinity over 30 days, oldest first. */
  trend: { at: string; value: number }[];
}

/** What happened to alerts since a time, newest last. */
export interface AlertEventFacts {
  alertId: string;
  kind: string;
  title: string;
}

export interface StockFacts {
  pieces: number;
  lots: number;
  changes: { reason: LedgerReason; pieces: number }[];
  /** Lots whose newest look is well after one that was not, since the time asked. */
  recovered: string[];
}

// An alert that another one explains is told with that one; one that is put off is not told.
const alertQuery = `
  SELECT alert.id, alert.severity, alert.title, coalesce(alert.finding->>'numbers', '') AS numbers,
         coalesce(alert.finding->>'why', '') AS why, coalesce(alert.finding->>'firstStep', '') AS "firstStep",
         (SELECT count(DISTINCT other.subject_id)::int FROM open_alert AS other WHERE other.cause_id = alert.id) AS explains
    FROM open_alert AS alert JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND (alert.put_off_until IS NULL OR alert.put_off_until <= $2)
   ORDER BY alert.severity, alert.opened_at`;

export async function alertsNow(pool: pg.Pool, siteId: string, now: Date): Promise<DigestAlert[]> {
  return (await pool.query<DigestAlert>(alertQuery, [siteId, now])).rows;
}

const eventQuery = `
  SELECT alert_event.alert_id AS "alertId", alert_event.kind, alert.title
    FROM alert_event JOIN alert ON alert.id = alert_event.alert_id JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert_event.at > $2 AND alert_event.at <= $3 AND alert.cause_id IS NULL
   ORDER BY alert_event.at, alert_event.id`;

export async function alertEventsBetween(
  pool: pg.Pool,
  siteId: string,
  since: Date,
  now: Date,
): Promise<AlertEventFacts[]> {
  return (await pool.query<AlertEventFacts>(eventQuery, [siteId, since, now])).rows;
}

const systemQuery = `
  WITH standing AS (
    SELECT system_id, quantity_code, value, at, below_detection FROM reading
     WHERE at > $2::timestamptz - interval '30 days' AND at <= $2 AND voided_at IS NULL AND slot_id IS NULL AND trust <> 'refuted'
       AND NOT EXISTS (SELECT 1 FROM reading AS newer WHERE newer.supersedes_id = reading.id))
  SELECT system.id, system.name, system.volume_l AS "volumeL",
         (SELECT count(*)::int FROM open_alert WHERE system_id = system.id AND cause_id IS NULL
             AND (put_off_until IS NULL OR put_off_until <= $2)) AS alerts,
         coalesce((SELECT json_agg(newest) FROM (
            SELECT DISTINCT ON (quantity_code) quantity_code AS "quantityCode", value, at, below_detection AS below
              FROM standing WHERE system_id = system.id ORDER BY quantity_code, at DESC) AS newest), '[]') AS latest,
         (SELECT max(value) - min(value) FROM standing
           WHERE system_id = system.id AND quantity_code = 'alkalinity' AND at > $2::timestamptz - interval '7 days'
          HAVING count(*) >= 3) AS swing,
         coalesce((SELECT json_agg(json_build_object('at', at, 'value', value) ORDER BY at) FROM standing
           WHERE system_id = system.id AND quantity_code = 'alkalinity' AND NOT below_detection), '[]') AS trend
    FROM system WHERE system.site_id = $1 AND system.retired_at IS NULL ORDER BY system.position, system.name`;

export async function systemsNow(pool: pg.Pool, siteId: string, now: Date): Promise<SystemFacts[]> {
  return (await pool.query<SystemFacts>(systemQuery, [siteId, now])).rows;
}

const stockQuery = `
  SELECT (SELECT coalesce(sum(pieces), 0)::int FROM lot WHERE site_id = $1) AS pieces,
         (SELECT count(*)::int FROM lot WHERE site_id = $1 AND pieces > 0) AS lots,
         coalesce((SELECT json_agg(json_build_object('reason', reason, 'pieces', pieces)) FROM (
            SELECT reason, sum(change)::int AS pieces FROM ledger_entry JOIN lot ON lot.id = lot_id
             WHERE site_id = $1 AND at > $2 AND at <= $3 GROUP BY reason ORDER BY reason) AS summed), '[]') AS changes,
         coalesce((SELECT array_agg(code ORDER BY code) FROM lot JOIN LATERAL (
            SELECT array_agg(state ORDER BY at DESC, id DESC) AS states, max(at) AS last FROM (
              SELECT state, at, id FROM condition WHERE lot_id = lot.id AND voided_at IS NULL AND at <= $3
               ORDER BY at DESC, id DESC LIMIT 2) AS looks) AS look ON true
           WHERE site_id = $1 AND look.last > $2 AND look.states[1] = 'well' AND look.states[2] IN ('paling', 'bleached', 'receding')), '{}') AS recovered`;

export async function stockSince(pool: pg.Pool, siteId: string, since: Date, now: Date): Promise<StockFacts> {
  const { rows } = await pool.query<StockFacts>(stockQuery, [siteId, since, now]);
  const [row] = rows;
  if (row === undefined) throw new Error('the database gave no answer');
  return row;
}

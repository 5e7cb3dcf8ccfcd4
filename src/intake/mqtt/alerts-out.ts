import type pg from 'pg';
import { farmWords } from '../../platform/units/reader-words.ts';

/** An alert as other programs are told of it, in the units of the farm. Times as ISO 8601. */
export interface ToldAlert {
  id: string;
  state: 'open' | 'put off' | 'cleared';
  /** now, today or watch. */
  urgency: string;
  title: string;
  rule: string;
  site: { id: string; name: string };
  system: { id: string; name: string };
  openedAt: Date;
  seenAt: Date | null;
  putOffUntil: Date | null;
  clearedAt: Date | null;
  clearedReason: string | null;
}

/** An alert that the broker has to be told of; `said` is what it will have been told then. */
export interface AlertToTell {
  alert: ToldAlert;
  said: string;
}

/** Told at once: enough to fill a moment, few enough for the next look to be soon (own choice). */
const atOnce = 200;

// What the broker was told last is kept as a fingerprint, so that an alert is told when it changed and never for nothing.
// One that opened and ended between two looks is not told. Quiet ones are still open.
const toTell = `
  SELECT * FROM (
    SELECT alert.id, alert.severity::text AS urgency, alert.title, alert.rule, alert.opened_at AS "openedAt", alert.seen_at AS "seenAt",
           alert.put_off_until AS "putOffUntil", alert.cleared_at AS "clearedAt", alert.cleared_reason AS "clearedReason",
           system.id AS "systemId", system.name AS "systemName", site.id AS "siteId", site.name AS "siteName", told.said AS before,
           CASE WHEN alert.cleared_at IS NOT NULL THEN 'cleared' WHEN alert.put_off_until > $1 THEN 'put off' ELSE 'open' END AS state,
           md5(concat_ws('|', alert.severity, alert.title, alert.seen_at, alert.put_off_until, alert.put_off_until > $1, alert.cleared_at, system.id)) AS said
      FROM alert JOIN system ON system.id = alert.system_id JOIN site ON site.id = system.site_id
      LEFT JOIN mqtt_told AS told ON told.alert_id = alert.id
     WHERE alert.cleared_at IS NULL OR told.alert_id IS NOT NULL) AS standing
   WHERE before IS DISTINCT FROM said ORDER BY "openedAt", id LIMIT ${atOnce}`;

type Row = Omit<ToldAlert, 'site' | 'system'> & {
  said: string;
  before: string | null;
} & Record<'systemId' | 'systemName' | 'siteId' | 'siteName', string>;

/** Alerts that changed since the broker was told of them, the oldest first. One query. */
export async function alertsToTell(pool: pg.Pool, now: Date): Promise<AlertToTell[]> {
  const { rows } = await pool.query<Row>(toTell, [now]);
  return rows.map(({ said, before, systemId, systemName, siteId, siteName, ...alert }) => ({
    said,
    alert: {
      ...alert,
      title: farmWords(alert.title),
      clearedReason: alert.clearedReason === null ? null : farmWords(alert.clearedReason),
      site: { id: siteId, name: siteName },
      system: { id: systemId, name: systemName },
    },
  }));
}

/** Keeps what the broker has taken; an alert that has ended is told of no more. */
export async function noteTold(pool: pg.Pool, { alert, said }: AlertToTell): Promise<void> {
  if (alert.state === 'cleared') await pool.query('DELETE FROM mqtt_told WHERE alert_id = $1', [alert.id]);
  else
    await pool.query(
      'INSERT INTO mqtt_told (alert_id, said) VALUES ($1, $2) ON CONFLICT (alert_id) DO UPDATE SET said = excluded.said',
      [alert.id, said],
    );
}

/** A broker that knows nothing of us is told of every open alert anew. */
export async function forgetTold(pool: pg.Pool): Promise<void> {
  await pool.query('DELETE FROM mqtt_told');
}

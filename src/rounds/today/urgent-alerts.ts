import type pg from 'pg';
import type { KeptFinding } from '../../alerts/apply.ts';
import type { SubjectType } from '../../alerts/finding.ts';
import type { Severity } from '../../generated/prisma/enums.ts';

/** An alert that is open, as the first page lists it. */
export interface UrgentAlert {
  id: string;
  severity: Severity;
  rule: string;
  facet: string;
  subjectType: SubjectType;
  title: string;
  system: string | null;
  openedAt: Date;
  seen: boolean;
  finding: Partial<KeptFinding>;
  /** How many others it explains. */
  explains: number;
}

/** What is open at a site: what to act on now, so much of it as was asked for, and how many alerts there are. */
export interface UrgentAlerts {
  acute: UrgentAlert[];
  now: number;
  today: number;
  watch: number;
}

const alertQuery = `
  SELECT alert.id, alert.severity, alert.rule, alert.facet, alert.subject_type AS "subjectType", alert.title, system.name AS system, alert.opened_at AS "openedAt",
         alert.seen_at IS NOT NULL AS seen, alert.finding,
         (SELECT count(DISTINCT other.subject_id) FROM open_alert AS other WHERE other.cause_id = alert.id)::int AS explains
    FROM open_alert AS alert
    JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND (alert.put_off_until IS NULL OR alert.put_off_until <= $2) AND alert.severity = 'now'
   ORDER BY alert.opened_at, alert.id LIMIT $3`;

const countQuery = `
  SELECT (count(*) FILTER (WHERE severity = 'now'))::int AS now, (count(*) FILTER (WHERE severity = 'today'))::int AS today,
         (count(*) FILTER (WHERE severity = 'watch'))::int AS watch
    FROM open_alert AS alert
    JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND (alert.put_off_until IS NULL OR alert.put_off_until <= $2)`;

/** A site's open alerts that nothing else explains and nobody put off: those to act on now, longest open first, and counts of all. Two queries. */
export async function urgentAlerts(
  pool: pg.Pool,
  siteId: string,
  now: Date,
  most: number,
): Promise<UrgentAlerts> {
  const [acute, counts] = await Promise.all([
    pool.query<UrgentAlert>(alertQuery, [siteId, now, most]),
    pool.query<Omit<UrgentAlerts, 'acute'>>(countQuery, [siteId, now]),
  ]);
  return { ...(counts.rows[0] ?? { now: 0, today: 0, watch: 0 }), acute: acute.rows };
}

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

const alertQuery = `
  SELECT alert.id, alert.severity, alert.rule, alert.facet, alert.subject_type AS "subjectType", alert.title, system.name AS system, alert.opened_at AS "openedAt",
         alert.seen_at IS NOT NULL AS seen, alert.finding,
         (SELECT count(DISTINCT other.subject_id) FROM open_alert AS other WHERE other.cause_id = alert.id)::int AS explains
    FROM open_alert AS alert
    JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND (alert.put_off_until IS NULL OR alert.put_off_until <= $2)
   ORDER BY alert.severity, alert.opened_at, alert.id`;

/** A site's open alerts that nothing else explains and nobody put off: the most urgent first. One query. */
export async function alertsByUrgency(pool: pg.Pool, siteId: string, now: Date): Promise<UrgentAlert[]> {
  return (await pool.query<UrgentAlert>(alertQuery, [siteId, now])).rows;
}

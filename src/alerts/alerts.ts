import type pg from 'pg';
import type { Severity } from '../generated/prisma/enums.ts';
import type { Page } from '../platform/door/pages.ts';
import { notFound } from '../platform/refusal.ts';
import { readersJson } from '../platform/units/reader-words.ts';
import type { KeptFinding } from './apply.ts';
import type { SubjectType } from './finding.ts';
import { reachOf, worstFirst } from './order.ts';

/** An alert as people see it. Times are Dates; `finding` is what was last found. */
export interface Alert {
  id: string;
  rule: string;
  subjectType: SubjectType;
  subjectId: string;
  facet: string;
  systemId: string;
  systemName: string;
  severity: Severity;
  title: string;
  finding: KeptFinding;
  openedAt: Date;
  evaluatedAt: Date;
  quietSince: Date | null;
  seenAt: Date | null;
  seenBy: string | null;
  putOffUntil: Date | null;
  putOffReason: string | null;
  putOffBy: string | null;
  causeId: string | null;
  clearedAt: Date | null;
  clearedReason: string | null;
  version: number;
}

export interface AlertFilter {
  siteId?: string;
  systemId?: string;
  subjectId?: string;
  /** Only alerts put off beyond this time, or only those that are not. */
  putOff?: { at: Date; is: boolean };
}

const columns = `
  alert.id, alert.rule, alert.subject_type AS "subjectType", alert.subject_id AS "subjectId", alert.facet,
  alert.system_id AS "systemId", system.name AS "systemName", alert.severity::text AS severity, alert.title, alert.finding,
  alert.opened_at AS "openedAt", alert.evaluated_at AS "evaluatedAt", alert.quiet_since AS "quietSince",
  alert.seen_at AS "seenAt", seer.name AS "seenBy", alert.put_off_until AS "putOffUntil",
  alert.put_off_reason AS "putOffReason", deferrer.name AS "putOffBy", alert.cause_id AS "causeId",
  alert.cleared_at AS "clearedAt", alert.cleared_reason AS "clearedReason", alert.version`;

const joined = `
  FROM alert JOIN system ON system.id = alert.system_id
  LEFT JOIN account AS seer ON seer.id = alert.seen_by_id
  LEFT JOIN account AS deferrer ON deferrer.id = alert.put_off_by_id`;

/** The open alerts, worst first, those that another explains among them. One query. */
export async function openAlerts(pool: pg.Pool, filter: AlertFilter = {}): Promise<Alert[]> {
  const { siteId = null, systemId = null, subjectId = null, putOff } = filter;
  const { rows } = await pool.query<Alert>(
    `SELECT ${columns} ${joined}
      WHERE alert.cleared_at IS NULL
        AND ($1::uuid IS NULL OR system.site_id = $1) AND ($2::uuid IS NULL OR alert.system_id = $2)
        AND ($3::uuid IS NULL OR alert.subject_id = $3)
        AND ($4::timestamptz IS NULL OR (alert.put_off_until IS NOT NULL AND alert.put_off_until > $4) = $5)
      ORDER BY ${worstFirst('alert')}`,
    [siteId, systemId, subjectId, putOff?.at ?? null, putOff?.is ?? null],
  );
  return rows.map(readersJson);
}

/** An open alert that no other explains, without what it says. */
export type AlertRoot = Pick<Alert, 'id' | 'severity' | 'putOffUntil'>;

/** The open alerts of a site that no other explains, worst first, without their findings: lists show a few of them. One query. */
export async function openRoots(pool: pg.Pool, siteId: string): Promise<AlertRoot[]> {
  const { rows } = await pool.query<AlertRoot>(
    `SELECT alert.id, alert.severity::text AS severity, alert.put_off_until AS "putOffUntil"
       FROM alert JOIN system ON system.id = alert.system_id
      WHERE alert.cleared_at IS NULL AND alert.cause_id IS NULL AND system.site_id = $1
      ORDER BY ${worstFirst('alert')}`,
    [siteId],
  );
  return rows;
}

/** An open alert that another explains, as a list names it. */
export type ExplainedAlert = Pick<Alert, 'id' | 'severity' | 'title' | 'subjectId' | 'causeId'>;

/** Some open alerts in the order asked, and what each of them explains, worst first. Two queries. */
export async function alertsWithExplained(
  pool: pg.Pool,
  ids: readonly string[],
): Promise<{ alert: Alert; explains: ExplainedAlert[] }[]> {
  if (ids.length === 0) return [];
  const [alerts, explained] = await Promise.all([
    pool.query<Alert>(
      `SELECT ${columns} ${joined} WHERE alert.id = ANY($1::uuid[]) AND alert.cleared_at IS NULL`,
      [ids],
    ),
    pool.query<ExplainedAlert>(
      `SELECT alert.id, alert.severity::text AS severity, alert.title, alert.subject_id AS "subjectId", alert.cause_id AS "causeId"
         FROM alert WHERE alert.cause_id = ANY($1::uuid[]) AND alert.cleared_at IS NULL ORDER BY ${worstFirst('alert')}`,
      [ids],
    ),
  ]);
  const found = new Map(alerts.rows.map((alert) => [alert.id, readersJson(alert)]));
  const byCause = Map.groupBy(explained.rows.map(readersJson), ({ causeId }) => causeId);
  return ids.flatMap((id) => {
    const alert = found.get(id);
    return alert === undefined ? [] : [{ alert, explains: byCause.get(id) ?? [] }];
  });
}

/** Where an alert stands in the order of the open ones: urgency, how much it reaches, score, when it opened, id. */
export type AlertPlace = readonly [
  severity: Severity,
  reach: number,
  score: number,
  openedAt: string,
  id: string,
];

/** The place of an alert, behind which the next page begins. */
export const placeOfAlert = ({ severity, finding, openedAt, id, ...of }: Alert): AlertPlace => [
  severity,
  reachOf({ severity, rule: of.rule, subject: { type: of.subjectType, id: of.subjectId } }),
  finding.score ?? 0,
  openedAt.toISOString(),
  id,
];

/**
 * A page of the open alerts, worst first: those behind a place in that order. What comes, goes or moves meanwhile neither
 * repeats nor hides any other. One query, of so many rows.
 */
export async function pageOfAlerts(
  pool: pg.Pool,
  filter: AlertFilter,
  { after, limit }: Page<AlertPlace>,
): Promise<{ alerts: Alert[]; next: AlertPlace | null }> {
  const { siteId = null, systemId = null, subjectId = null } = filter;
  const { rows } = await pool.query<Alert>(
    `SELECT ${columns} ${joined}
      WHERE alert.cleared_at IS NULL
        AND ($1::uuid IS NULL OR system.site_id = $1) AND ($2::uuid IS NULL OR alert.system_id = $2)
        AND ($3::uuid IS NULL OR alert.subject_id = $3)
        AND ($4::"Severity" IS NULL
             OR (${worstFirst('alert')}) > ($4::"Severity", $5::int, -($6::float), $7::timestamptz, $8::uuid))
      ORDER BY ${worstFirst('alert')} LIMIT $9`,
    [siteId, systemId, subjectId, ...(after ?? [null, null, null, null, null]), limit + 1],
  );
  const alerts = rows.slice(0, limit).map(readersJson);
  const last = alerts.at(-1);
  return { alerts, next: rows.length > limit && last !== undefined ? placeOfAlert(last) : null };
}

/** How many alerts are open: those that no other explains and that are not put off, by urgency; those put off, and until when. */
export interface OpenCounts {
  now: number;
  today: number;
  watch: number;
  putOff: number;
  nextBack: Date | null;
}

/** Counts of the open alerts. One query. */
export async function countAlerts(pool: pg.Pool, filter: AlertFilter, now: Date): Promise<OpenCounts> {
  const { siteId = null, systemId = null, subjectId = null } = filter;
  const { rows } = await pool.query<OpenCounts>(
    `SELECT count(*) FILTER (WHERE NOT off AND severity = 'now')::int AS now, count(*) FILTER (WHERE NOT off AND severity = 'today')::int AS today,
            count(*) FILTER (WHERE NOT off AND severity = 'watch')::int AS watch, count(*) FILTER (WHERE off)::int AS "putOff",
            min(put_off_until) FILTER (WHERE off) AS "nextBack"
       FROM (SELECT alert.severity, alert.put_off_until, coalesce(alert.put_off_until > $4, false) AS off
               FROM alert JOIN system ON system.id = alert.system_id
              WHERE alert.cleared_at IS NULL AND alert.cause_id IS NULL AND ($1::uuid IS NULL OR system.site_id = $1)
                AND ($2::uuid IS NULL OR alert.system_id = $2) AND ($3::uuid IS NULL OR alert.subject_id = $3)) AS shown`,
    [siteId, systemId, subjectId, now],
  );
  return rows[0] ?? { now: 0, today: 0, watch: 0, putOff: 0, nextBack: null };
}

/** Since when the oldest open alert of a system is open; null where none is. One query. */
export async function openSince(pool: pg.Pool, systemId: string): Promise<Date | null> {
  const { rows } = await pool.query<{ since: Date | null }>(
    'SELECT min(opened_at) AS since FROM alert WHERE system_id = $1 AND cleared_at IS NULL',
    [systemId],
  );
  return rows[0]?.since ?? null;
}

/** The alerts cleared since a time, newest first; at most `most`. */
export async function clearedAlerts(
  pool: pg.Pool,
  ask: { siteId: string; since: Date; most: number },
): Promise<Alert[]> {
  const { rows } = await pool.query<Alert>(
    `SELECT ${columns} ${joined} WHERE system.site_id = $1 AND alert.cleared_at > $2
      ORDER BY alert.cleared_at DESC, alert.id LIMIT $3`,
    [ask.siteId, ask.since, ask.most],
  );
  return rows.map(readersJson);
}

/** One alert, open or cleared. @throws Refusal 404 */
export async function findAlert(pool: pg.Pool, id: string): Promise<Alert> {
  const { rows } = await pool.query<Alert>(`SELECT ${columns} ${joined} WHERE alert.id = $1`, [id]);
  const [alert] = rows;
  if (alert === undefined) throw notFound('This alert');
  return readersJson(alert);
}

/** The open alerts that this one explains, worst first. */
export async function explainedBy(pool: pg.Pool, id: string): Promise<Alert[]> {
  const { rows } = await pool.query<Alert>(
    `SELECT ${columns} ${joined} WHERE alert.cause_id = $1 AND alert.cleared_at IS NULL
      ORDER BY ${worstFirst('alert')}`,
    [id],
  );
  return rows.map(readersJson);
}

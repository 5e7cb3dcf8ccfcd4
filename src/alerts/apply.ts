import { uuidv7 } from 'uuidv7';
import type { Work } from '../platform/change.ts';
import type { Reader, Tx } from '../platform/service.ts';
import type { AlertPlan, AlertUpdate, FoundWords, OpenAlert, Reported } from './diff.rules.ts';
import { type Finding, keyText } from './finding.ts';

/**
 * The finding as it is kept with its alert, and what was last told of it. `found` has the words as the rule found them,
 * where they were replaced because it is over or something was done.
 */
export type KeptFinding = Finding & { reported: Reported; found?: FoundWords };

/** The alerts open in a system, and those elsewhere on the same subjects; their rows are locked. */
export async function loadOpen(tx: Tx, systemId: string, findings: readonly Finding[]): Promise<OpenAlert[]> {
  const rules = findings.map(({ rule }) => rule);
  const subjects = findings.map(({ subject }) => subject.id);
  const rows = await tx.$queryRaw<
    (Omit<OpenAlert, 'subject' | 'reported' | 'doubted'> & {
      type: string;
      subjectId: string;
      finding: KeptFinding;
    })[]
  >`
    SELECT id, rule, subject_type AS type, subject_id AS "subjectId", facet, system_id AS "systemId", severity::text, title,
           finding, opened_at AS "openedAt", worst, quiet_since AS "quietSince", put_off_until AS "putOffUntil", put_off_worst AS "putOffWorst"
      FROM alert
     WHERE cleared_at IS NULL
       AND (system_id = ${systemId}::uuid
            OR (rule, subject_id) IN (SELECT * FROM unnest(${rules}::text[], ${subjects}::uuid[])))
     ORDER BY id FOR UPDATE`;
  return rows.map(({ type, subjectId, finding, ...row }) => ({
    ...row,
    finding,
    subject: { type: type as Finding['subject']['type'], id: subjectId },
    reported: finding.reported,
    doubted: finding.doubted ?? false,
  }));
}

/** Makes what a plan says: opens, follows and clears alerts with their events and journal lines. */
export async function applyPlan(work: Work, systemId: string, plan: AlertPlan): Promise<void> {
  const opened = plan.opened.map((finding) => ({ id: uuidv7(), finding }));
  await open(work, opened, plan.shown);
  await update(work.tx, systemId, plan.updates, work.now);
  await tell(work, plan, opened);
}

async function open(
  work: Work,
  opened: readonly { id: string; finding: Finding }[],
  shown: AlertPlan['shown'],
): Promise<void> {
  await work.tx.alert.createMany({
    data: opened.map(({ id, finding }) => ({
      id,
      rule: finding.rule,
      subjectType: finding.subject.type,
      subjectId: finding.subject.id,
      facet: finding.facet,
      systemId: finding.systemId,
      severity: shown?.get(keyText(finding)) ?? finding.severity,
      title: finding.title,
      finding: kept(finding, { score: finding.score, severity: finding.severity }),
      worst: finding.score,
      openedAt: work.now,
      evaluatedAt: work.now,
    })),
  });
}

const kept = (finding: Finding, reported: Reported) => JSON.parse(JSON.stringify({ ...finding, reported }));

/** Brings open alerts up to what was found, in one statement. */
export async function update(
  tx: Reader,
  systemId: string,
  updates: readonly AlertUpdate[],
  now: Date,
): Promise<void> {
  if (updates.length === 0) return;
  const rows = JSON.stringify(
    updates.map(({ finding, reported, ...rest }) => ({
      ...rest,
      finding: finding === null ? null : kept(finding, reported),
    })),
  );
  await tx.$executeRaw`
    UPDATE alert SET
           finding = coalesce(now.finding, alert.finding),
           title = coalesce(now.finding ->> 'title', alert.title),
           severity = coalesce(now.severity::"Severity", alert.severity),
           system_id = CASE WHEN now.finding IS NULL THEN alert.system_id ELSE ${systemId}::uuid END,
           worst = now.worst,
           quiet_since = now."quietSince",
           put_off_until = CASE WHEN now.back THEN NULL ELSE alert.put_off_until END,
           put_off_reason = CASE WHEN now.back THEN NULL ELSE alert.put_off_reason END,
           put_off_worst = CASE WHEN now.back THEN NULL ELSE alert.put_off_worst END,
           put_off_by_id = CASE WHEN now.back THEN NULL ELSE alert.put_off_by_id END,
           cleared_at = CASE WHEN now."clearedReason" IS NOT NULL THEN greatest(${now}::timestamptz, alert.opened_at) END,
           cleared_reason = now."clearedReason",
           evaluated_at = ${now}::timestamptz
      FROM jsonb_to_recordset(${rows}::jsonb) AS now(id uuid, finding jsonb, severity text, worst float,
             "quietSince" timestamptz, back boolean, "clearedReason" text)
     WHERE alert.id = now.id`;
}

/** Events and journal lines of the changes. */
async function tell(
  work: Work,
  plan: AlertPlan,
  opened: readonly { id: string; finding: Finding }[],
): Promise<void> {
  const ids = new Map<string, string>([
    ...opened.map(({ id, finding }) => [keyText(finding), id] as const),
    ...plan.keys,
  ]);
  const events = plan.changes.map(({ kind, key, detail }) => {
    const alertId = ids.get(key);
    if (alertId === undefined) throw new Error(`no alert for ${key}`);
    return { alertId, at: work.now, kind, detail: detail as object };
  });
  await work.tx.alertEvent.createMany({ data: events });
  for (const { alertId, kind, detail } of events) {
    work.record(`alert.${kind === 'back' ? 'returned' : kind}`, { type: 'alert', id: alertId }, detail);
  }
}

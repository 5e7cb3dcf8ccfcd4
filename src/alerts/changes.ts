import type pg from 'pg';
import { leftOvernight } from '../farm/contacts/night-watch.ts';
import type { Severity } from '../generated/prisma/enums.ts';
import type { Work } from '../platform/change.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import type { Standing } from '../platform/seen.ts';
import { readersJson } from '../platform/units/reader-words.ts';
import type { KeptFinding } from './apply.ts';

/** One change of an alert's state; `kind`: opened, worse, better, acted, seen, put_off, back, cleared. */
export interface AlertEvent {
  alertId: string;
  at: Date;
  kind: string;
  detail: Record<string, unknown>;
  who: string | null;
  title: string;
  severity: Severity;
  causeId: string | null;
}

const eventColumns = `
  alert_event.alert_id AS "alertId", alert_event.at, alert_event.kind, alert_event.detail, account.name AS who,
  alert.title, alert.severity::text AS severity, alert.cause_id AS "causeId"
  FROM alert_event JOIN alert ON alert.id = alert_event.alert_id LEFT JOIN account ON account.id = alert_event.account_id`;

/** What happened to a site's alerts after `since` and up to `until`, oldest first. */
export async function alertEvents(
  pool: pg.Pool,
  ask: { siteId: string; since: Date; until: Date },
): Promise<AlertEvent[]> {
  const { rows } = await pool.query<AlertEvent>(
    `SELECT ${eventColumns} JOIN system ON system.id = alert.system_id
      WHERE system.site_id = $1 AND alert_event.at > $2 AND alert_event.at <= $3 ORDER BY alert_event.at, alert_event.id`,
    [ask.siteId, ask.since, ask.until],
  );
  return rows.map(readersJson);
}

/** What happened to one alert, newest first. */
export async function historyOf(pool: pg.Pool, alertId: string): Promise<AlertEvent[]> {
  const { rows } = await pool.query<AlertEvent>(
    `SELECT ${eventColumns} WHERE alert_event.alert_id = $1 ORDER BY alert_event.at DESC, alert_event.id DESC`,
    [alertId],
  );
  return rows.map(readersJson);
}

interface OpenRow {
  title: string;
  severity: Severity;
  systemId: string;
  finding: KeptFinding;
  putOffUntil: Date | null;
}

/** The row of an open alert, locked for this change. @throws Refusal 404, 409 when it is cleared */
async function lockOpen(work: Work, id: string): Promise<OpenRow> {
  const rows = await work.tx.$queryRaw<(OpenRow & { cleared: boolean })[]>`
    SELECT title, severity, system_id AS "systemId", finding, put_off_until AS "putOffUntil", cleared_at IS NOT NULL AS cleared
      FROM alert WHERE id = ${id}::uuid FOR UPDATE`;
  const [row] = rows;
  if (row === undefined) throw notFound('This alert');
  if (row.cleared)
    throw new Refusal('This alert has cleared meanwhile; there is nothing left to do.', { status: 409 });
  return row;
}

async function tell(
  work: Work,
  id: string,
  kind: 'seen' | 'acted' | 'put_off' | 'back',
  detail: Record<string, string>,
): Promise<void> {
  await work.tx.alertEvent.create({
    data: { alertId: id, at: work.now, kind, detail, accountId: work.accountId },
  });
  work.record(`alert.${kind}`, { type: 'alert', id }, detail);
}

/** Notes that somebody has seen an alert; the alert stays open. */
export async function seeAlert(work: Work, id: string): Promise<void> {
  const { title } = await lockOpen(work, id);
  await work.tx.alert.update({ where: { id }, data: { seenAt: work.now, seenById: work.accountId } });
  await tell(work, id, 'seen', { title });
}

/**
 * Notes what somebody did about an alert that no other entry tells; what confirms it is asked for from then on.
 * @param more what programs read of it beside the words
 */
export async function actOnAlert(
  work: Work,
  id: string,
  what: string,
  more: Readonly<Record<string, string>> = {},
): Promise<void> {
  const { title, systemId } = await lockOpen(work, id);
  await work.tx.alert.update({ where: { id }, data: { seenAt: work.now, seenById: work.accountId } });
  await tell(work, id, 'acted', { title, what, ...more });
  work.reevaluate(systemId);
}

/** What putting an alert off is said of: a worse one, or one put off meanwhile, is looked at first. */
export const postponementStanding = (id: string): Standing => ({
  what: 'this alert',
  read: ({ alert }) => alert.findUnique({ where: { id }, select: { severity: true, putOffUntil: true } }),
});

/**
 * Puts an alert off until a time, with the reason. It comes back earlier when it gets worse than it is now; evaluation
 * goes on.
 */
export async function putOffAlert(
  work: Work,
  id: string,
  input: { until: Date; reason: string; watcher?: string },
): Promise<void> {
  const { title, finding, severity, systemId } = await lockOpen(work, id);
  const { until, watcher = '' } = input;
  const system = await work.tx.system.findUniqueOrThrow({ where: { id: systemId } });
  const said = { why: input.reason, watcher };
  const reason = severity === 'now' ? await leftOvernight(work.tx, system.siteId, said) : input.reason;
  await work.tx.alert.update({
    where: { id },
    data: {
      putOffUntil: until,
      putOffReason: reason,
      putOffWorst: finding.score,
      putOffById: work.accountId,
      seenAt: work.now,
      seenById: work.accountId,
      version: { increment: 1 },
    },
  });
  await tell(work, id, 'put_off', { title, reason, until: until.toISOString() });
}

/** Takes a postponement back. @throws Refusal 409 when the alert is not put off */
export async function takeBackPostponement(work: Work, id: string): Promise<void> {
  const { title, putOffUntil } = await lockOpen(work, id);
  if (putOffUntil === null) throw new Refusal('This alert is not put off.', { status: 409 });
  await work.tx.alert.update({
    where: { id },
    data: {
      putOffUntil: null,
      putOffReason: null,
      putOffWorst: null,
      putOffById: null,
      version: { increment: 1 },
    },
  });
  await tell(work, id, 'back', { title, because: 'somebody took it back' });
}

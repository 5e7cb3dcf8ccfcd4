import { hourMs } from '../science/numeric/time.ts';
import { type Finding, type FindingKey, keyText, rankOf, type Severity } from './finding.ts';

/** What was last told of an alert: changes are measured from it, so that nothing is told twice. */
export interface Reported {
  score: number;
  severity: Severity;
}

/** An alert that is open, as the database has it. */
export interface OpenAlert extends FindingKey {
  id: string;
  systemId: string;
  severity: Severity;
  title: string;
  reported: Reported;
  /** Only a reading that nobody had repeated said so. */
  doubted: boolean;
  worst: number;
  quietSince: Date | null;
  putOffUntil: Date | null;
  putOffWorst: number | null;
}

type ChangeKind = 'opened' | 'worse' | 'better' | 'back' | 'cleared';

/** One change of an alert's state. */
interface AlertChange {
  kind: ChangeKind;
  /** Whose alert: of an opened one, the finding's key. */
  key: string;
  detail: Record<string, unknown>;
}

/** What an alert becomes. */
export interface AlertUpdate {
  id: string;
  /** Null leaves the finding as it was. */
  finding: Finding | null;
  reported: Reported;
  worst: number;
  quietSince: Date | null;
  back: boolean;
  clearedReason: string | null;
}

/** All that one evaluation of one system does to its alerts. */
export interface AlertPlan {
  opened: Finding[];
  updates: AlertUpdate[];
  changes: AlertChange[];
  /** The open alerts' ids by key. */
  keys: [string, string][];
}

/** A score has to move by this ratio to be told as worse or better. */
const tellingRatio = 1.25;

/** What an alert has to know of the rule that found it. */
export interface AlertRule {
  name: string;
  /** An alert clears when nothing was found for this long. */
  quietHours: number;
  /** What is said when it clears so. */
  cleared: string;
}

interface Asked {
  open: readonly OpenAlert[];
  findings: readonly Finding[];
  rules: readonly AlertRule[];
  now: Date;
  /** Why the subject of an alert can no longer have one (gone, retired); null while it is there. */
  goneBecause(alert: OpenAlert): string | null;
}

/**
 * Compares what the rules say now with the alerts that are open. An alert opens only on a finding that fires, stays on
 * one that merely stays, clears when nothing was found for the rule's quiet time, and is told again only when it got
 * worse or better by a quarter or by urgency. One that was put off comes back when its day has come or it got worse.
 */
export function diffAlerts({ open, findings, rules, now, goneBecause }: Asked): AlertPlan {
  const plan: AlertPlan = {
    opened: [],
    updates: [],
    changes: [],
    keys: open.map((alert) => [keyText(alert), alert.id]),
  };
  const found = new Map(findings.map((finding) => [keyText(finding), finding]));
  const openKeys = new Set(open.map(keyText));
  for (const alert of open) {
    const gone = goneBecause(alert);
    const rule = rules.find(({ name }) => name === alert.rule);
    if (gone !== null) clear(plan, alert, gone);
    else if (rule === undefined) clear(plan, alert, 'this is no longer watched');
    else follow(plan, alert, found.get(keyText(alert)), rule, now);
  }
  for (const finding of findings) {
    if (finding.status !== 'fires' || openKeys.has(keyText(finding))) continue;
    plan.opened.push(finding);
    plan.changes.push({ kind: 'opened', key: keyText(finding), detail: told(finding) });
  }
  return plan;
}

function follow(
  plan: AlertPlan,
  alert: OpenAlert,
  finding: Finding | undefined,
  rule: AlertRule,
  now: Date,
): void {
  if (finding === undefined && alert.doubted) {
    clear(plan, alert, 'it was one reading, which no second one bore out');
    return;
  }
  if (finding === undefined) {
    quieten(plan, alert, rule, now);
    return;
  }
  if (finding.status === 'unknown') {
    keep(plan, alert, null, alert.reported, now);
    return;
  }
  const kind = changeOf(alert, finding);
  const reported = kind === null ? alert.reported : { score: finding.score, severity: finding.severity };
  if (kind !== null) plan.changes.push({ kind, key: keyText(alert), detail: told(finding, alert) });
  keep(plan, alert, finding, reported, now);
}

/** Worse by urgency or by a quarter; better by a quarter (urgency falls with it, not by itself). */
function changeOf({ reported }: OpenAlert, finding: Finding): 'worse' | 'better' | null {
  const urgency = rankOf(finding.severity) - rankOf(reported.severity);
  if (urgency > 0) return 'worse';
  if (finding.score >= reported.score * tellingRatio) return urgency < 0 ? null : 'worse';
  return finding.score <= reported.score / tellingRatio ? 'better' : null;
}

function keep(
  plan: AlertPlan,
  alert: OpenAlert,
  finding: Finding | null,
  reported: Reported,
  now: Date,
): void {
  const back = tellIfBack(plan, alert, finding, now);
  plan.updates.push({
    id: alert.id,
    finding,
    reported,
    worst: Math.max(alert.worst, finding?.score ?? 0),
    quietSince: null,
    back,
    clearedReason: null,
  });
}

/** True when an alert that was put off comes back now; the plan then says why. */
function tellIfBack(plan: AlertPlan, alert: OpenAlert, finding: Finding | null, now: Date): boolean {
  const because = comesBack(alert, finding, now);
  if (because === null) return false;
  plan.changes.push({ kind: 'back', key: keyText(alert), detail: { because, title: alert.title } });
  return true;
}

function comesBack(alert: OpenAlert, finding: Finding | null, now: Date): string | null {
  const { putOffUntil, putOffWorst, severity } = alert;
  if (putOffUntil === null || putOffWorst === null) return null;
  if (putOffUntil <= now) return 'its day has come';
  if (finding === null) return null;
  const worse = finding.score >= putOffWorst * tellingRatio || rankOf(finding.severity) > rankOf(severity);
  return worse ? 'it got worse' : null;
}

function quieten(plan: AlertPlan, alert: OpenAlert, rule: AlertRule, now: Date): void {
  const quietSince = alert.quietSince ?? now;
  if (now.getTime() - quietSince.getTime() >= rule.quietHours * hourMs) {
    clear(plan, alert, rule.cleared);
    return;
  }
  const back = tellIfBack(plan, alert, null, now);
  const { id, reported, worst } = alert;
  plan.updates.push({
    id,
    finding: null,
    reported,
    worst,
    quietSince,
    back,
    clearedReason: null,
  });
}

function clear(plan: AlertPlan, alert: OpenAlert, reason: string): void {
  const { id, reported, worst, quietSince, title } = alert;
  plan.updates.push({ id, finding: null, reported, worst, quietSince, back: false, clearedReason: reason });
  plan.changes.push({ kind: 'cleared', key: keyText(alert), detail: { because: reason, title } });
}

function told(finding: Finding, before?: OpenAlert): Record<string, unknown> {
  const { title, numbers, severity, score } = finding;
  return { title, numbers, severity, score, ...(before === undefined ? {} : { before: before.reported }) };
}

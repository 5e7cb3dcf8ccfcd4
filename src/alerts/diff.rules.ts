import { hourMs } from '../science/numeric/time.ts';
import {
  type Answer,
  type Finding,
  type FindingKey,
  keyText,
  lowered,
  rankOf,
  type Severity,
} from './finding.ts';

/** What was last told of an alert: changes are measured from it, so that nothing is told twice. */
export interface Reported {
  score: number;
  severity: Severity;
}

/** What a rule last said of an alert that it does not find any more, or that somebody acted on. */
export type FoundWords = Pick<Finding, 'title' | 'numbers' | 'why' | 'firstStep'>;

/** An alert that is open, as the database has it. */
export interface OpenAlert extends FindingKey {
  id: string;
  systemId: string;
  severity: Severity;
  title: string;
  openedAt: Date;
  /** As it is kept; `found` where other words stand for those of its rule. */
  finding: Finding & { found?: FoundWords };
  reported: Reported;
  /** Only a reading that nobody had repeated said so. */
  doubted: boolean;
  worst: number;
  quietSince: Date | null;
  putOffUntil: Date | null;
  putOffWorst: number | null;
}

type ChangeKind = 'opened' | 'worse' | 'better' | 'acted' | 'back' | 'cleared';

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
  finding: (Finding & { found?: FoundWords }) | null;
  /** How urgent it is shown; null leaves it as it was. */
  severity: Severity | null;
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
  /** How urgent alerts that open are shown, by key, where that is not what they were found as. */
  shown?: ReadonlyMap<string, Severity>;
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
}

/** What is known of an alert beside what its rule finds now. */
export interface Aftermath {
  /** The fact that ended it, in words that go on after "cleared:"; asked only when its rule finds nothing. */
  endedBecause(alert: OpenAlert): string;
  /** What was done about it since it opened; null where nothing was. `found`: as its rule finds it now, null if it does not. */
  answerTo(alert: OpenAlert, found: Finding | null): Answer | null;
  /** Words for an alert that was acted on and waits to be confirmed, or that its rule does not find any more. */
  words(state: AftermathState): FoundWords;
}

export interface AftermathState {
  /** As the rule last found it. */
  found: FoundWords;
  answer: Answer | null;
  /** Why its rule finds nothing any more; null where it still does. */
  ended: string | null;
  /** When it clears by itself if it stays so. */
  clearsAt: Date | null;
}

interface Asked {
  open: readonly OpenAlert[];
  findings: readonly Finding[];
  rules: readonly AlertRule[];
  now: Date;
  /** Why the subject of an alert can no longer have one (gone, retired); null while it is there. */
  goneBecause(alert: OpenAlert): string | null;
  aftermath: Aftermath;
}

/**
 * Compares what the rules say now with the alerts that are open. An alert opens only on a finding that fires, stays on
 * one that merely stays, clears when nothing was found for the rule's quiet time, and is told again only when it got
 * worse or better by a quarter or by urgency. One that was put off comes back when its day has come or it got worse.
 * One that somebody acted on says what was done, asks for what confirms it instead of for the same again, does not clear
 * before that came, and rises again when it is overdue.
 */
export function diffAlerts({ open, findings, rules, now, goneBecause, aftermath }: Asked): AlertPlan {
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
    else follow(plan, alert, found.get(keyText(alert)), { rule, aftermath, now });
  }
  for (const finding of findings) {
    if (finding.status !== 'fires' || openKeys.has(keyText(finding))) continue;
    plan.opened.push(finding);
    plan.changes.push({ kind: 'opened', key: keyText(finding), detail: told(finding) });
  }
  return plan;
}

interface Following {
  rule: AlertRule;
  aftermath: Aftermath;
  now: Date;
}

function follow(
  plan: AlertPlan,
  alert: OpenAlert,
  finding: Finding | undefined,
  { rule, aftermath, now }: Following,
): void {
  if (finding === undefined && alert.doubted) {
    clear(plan, alert, aftermath.endedBecause(alert));
    return;
  }
  if (finding === undefined) {
    quieten(plan, alert, { rule, aftermath, now });
    return;
  }
  if (finding.status === 'unknown') {
    keep(plan, alert, null, { reported: alert.reported, severity: null }, now);
    return;
  }
  const kind = changeOf(alert, finding);
  const reported = kind === null ? alert.reported : { score: finding.score, severity: finding.severity };
  if (kind !== null) plan.changes.push({ kind, key: keyText(alert), detail: told(finding, alert) });
  const answer = aftermath.answerTo(alert, finding);
  tellOfAnswer(plan, alert, answer);
  // Water that kills within hours is no less dangerous because somebody did something: its steps stay first.
  const waits = answer !== null && answer.confirmedAt === null && answer.short !== true && !isAcute(finding);
  const found = foundWords(finding);
  const shown = waits
    ? { ...finding, ...aftermath.words({ found, answer, ended: null, clearsAt: null }), found }
    : finding;
  const severity = waits ? waitingSeverity(answer, reported.severity) : reported.severity;
  keep(plan, alert, { ...shown, answer }, { reported, severity }, now);
}

/** Phases of advice that a level has which kills within hours. */
const acutePhases: readonly string[] = ['people', 'air', 'source'];

const isAcute = ({ severity, subject, advice }: Finding): boolean =>
  severity === 'now' && subject.type === 'system' && advice.some(({ phase }) => acutePhases.includes(phase));

/** Where the confirming look comes within hours of the act, the alert stays as urgent as it was (own choice). */
const soonHours = 6;

/** An alert that was acted on and still stands by what was known before is one step less urgent until its look is overdue. */
function waitingSeverity({ at, dueAt, overdue }: Answer, severity: Severity): Severity {
  const hours = (Date.parse(dueAt) - Date.parse(at)) / hourMs;
  return overdue || hours <= soonHours ? severity : lowered(severity);
}

/** Tells once that somebody acted, and once that what was to confirm it is overdue. */
function tellOfAnswer(plan: AlertPlan, alert: OpenAlert, answer: Answer | null): void {
  if (answer === null) return;
  const before = alert.finding.answer ?? null;
  const key = keyText(alert);
  const title = alert.finding.found?.title ?? alert.title;
  const { what, by, at, noted, confirm, overdue } = answer;
  if (noted === false && (before === null || before.at !== at || before.what !== what))
    plan.changes.push({ kind: 'acted', key, detail: { title, what, by, at, confirm } });
  if (overdue && before?.overdue !== true && answer.short !== true)
    plan.changes.push({ kind: 'back', key, detail: { because: `${confirm} is overdue`, title } });
}

function foundWords({ title, numbers, why, firstStep }: FoundWords): FoundWords {
  return { title, numbers, why, firstStep };
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
  finding: AlertUpdate['finding'],
  { reported, severity }: Pick<AlertUpdate, 'reported' | 'severity'>,
  now: Date,
): void {
  const back = tellIfBack(plan, alert, finding, now);
  plan.updates.push({
    id: alert.id,
    finding,
    severity,
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
  const { putOffUntil, putOffWorst, reported } = alert;
  if (putOffUntil === null || putOffWorst === null) return null;
  if (putOffUntil <= now) return 'its day has come';
  if (finding === null) return null;
  const worse =
    finding.score >= putOffWorst * tellingRatio || rankOf(finding.severity) > rankOf(reported.severity);
  return worse ? 'it got worse' : null;
}

/** Its rule finds nothing: it clears after the rule's quiet time, but not before what was done is confirmed. */
function quieten(plan: AlertPlan, alert: OpenAlert, { rule, aftermath, now }: Following): void {
  const quietSince = alert.quietSince ?? now;
  const clearsAt = new Date(quietSince.getTime() + rule.quietHours * hourMs);
  const ended = aftermath.endedBecause(alert);
  const answer = aftermath.answerTo(alert, null);
  const waits = answer !== null && answer.confirmedAt === null;
  if (!waits && clearsAt <= now) {
    clear(plan, alert, ended);
    return;
  }
  tellOfAnswer(plan, alert, answer);
  const back = tellIfBack(plan, alert, null, now);
  const { id, reported, worst, finding } = alert;
  const found = finding.found ?? foundWords(finding);
  const words = aftermath.words({ found, answer, ended, clearsAt });
  plan.updates.push({
    id,
    finding: { ...finding, ...words, found, answer },
    severity: waits && answer.overdue ? overdueSeverity(reported.severity) : 'watch',
    reported,
    worst,
    quietSince,
    back,
    clearedReason: null,
  });
}

/** What is over by all that is known, but was to be confirmed and was not, is for today at the most. */
const overdueSeverity = (severity: Severity): Severity => (severity === 'now' ? 'today' : severity);

/** An alert that cleared keeps the words with which it was found. */
function clear(plan: AlertPlan, alert: OpenAlert, reason: string): void {
  const { id, reported, worst, quietSince, finding } = alert;
  const { found, ...rest } = finding;
  const restored = found === undefined ? null : { ...rest, ...found };
  plan.updates.push({
    ...{ id, finding: restored, severity: reported.severity, reported, worst, quietSince },
    ...{ back: false, clearedReason: reason },
  });
  const title = restored?.title ?? alert.title;
  plan.changes.push({ kind: 'cleared', key: keyText(alert), detail: { because: reason, title } });
}

function told(finding: Finding, before?: OpenAlert): Record<string, unknown> {
  const { title, numbers, severity, score } = finding;
  return { title, numbers, severity, score, ...(before === undefined ? {} : { before: before.reported }) };
}

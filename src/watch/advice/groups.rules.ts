import { type Advice, adviceWords, inOrder } from '../../alerts/advice.ts';
import { causesOf } from '../../alerts/causes.rules.ts';
import type { AlertPlan, OpenAlert } from '../../alerts/diff.rules.ts';
import { type Finding, keyText, mostUrgent, rankOf, type Severity } from '../../alerts/finding.ts';

/** The key of the finding that each is told under: its own where nothing explains it. By key. */
function leadersOf(findings: readonly Finding[]): ReadonlyMap<string, string> {
  const linked = findings.map((finding) => {
    const { rule, subject, facet, causes = [] } = finding;
    return { id: keyText(finding), key: { rule, subject, facet }, causes, causeId: null, quiet: false };
  });
  return new Map([...causesOf(linked)].map(([key, cause]) => [key, cause ?? key]));
}

/** Whether two findings are told as one alert: one explains the other, or a third explains both. */
export function toldTogether(findings: readonly Finding[]): (a: Finding, b: Finding) => boolean {
  const leaders = leadersOf(findings);
  return (a, b) => leaders.get(keyText(a)) === leaders.get(keyText(b));
}

/** An alert as it stands after a plan. */
interface Standing {
  key: string;
  finding: OpenAlert['finding'];
  severity: Severity;
  /** People see it: it is not put off. */
  seen: boolean;
}

/**
 * The plan with each alert that explains others as urgent as the worst of them that nobody put off, since it is told in their
 * place. It says what they ask for first; one that waits to be confirmed does so no longer while they are more urgent.
 */
export function asGroups(plan: AlertPlan, open: readonly OpenAlert[], now: Date): AlertPlan {
  const standing = standingOf(plan, open, now);
  const leaders = leadersOf(standing.map(({ finding }) => finding));
  const raised = new Map<string, { severity: Severity; finding: OpenAlert['finding'] }>();
  for (const [key, group] of Map.groupBy(standing, (one) => leaders.get(one.key) ?? one.key)) {
    const lead = group.find((one) => one.key === key);
    if (lead === undefined) continue;
    const worse = group.filter(({ seen, severity }) => seen && rankOf(severity) > rankOf(lead.severity));
    if (worse.length === 0) continue;
    const severity = mostUrgent(worse.map((one) => one.severity));
    raised.set(key, { severity, finding: leading(lead.finding, worse) });
  }
  if (raised.size === 0) return plan;
  const keys = new Map(plan.keys.map(([key, id]) => [id, key]));
  return {
    ...plan,
    opened: plan.opened.map((finding) => raised.get(keyText(finding))?.finding ?? finding),
    updates: plan.updates.map((update) => ({ ...update, ...raised.get(keys.get(update.id) ?? '') })),
    shown: new Map([...raised].map(([key, { severity }]) => [key, severity])),
  };
}

function standingOf(plan: AlertPlan, open: readonly OpenAlert[], now: Date): Standing[] {
  const alerts = new Map(open.map((alert) => [alert.id, alert]));
  const going = plan.updates.flatMap((update): Standing[] => {
    const alert = alerts.get(update.id);
    if (alert === undefined || update.clearedReason !== null || update.quietSince !== null) return [];
    const { putOffUntil } = alert;
    return [
      {
        key: keyText(alert),
        finding: update.finding ?? alert.finding,
        severity: update.severity ?? alert.severity,
        seen: update.back || putOffUntil === null || putOffUntil <= now,
      },
    ];
  });
  const opened = plan.opened.map((finding) => ({
    ...{ key: keyText(finding), finding, severity: finding.severity, seen: true },
  }));
  return [...opened, ...going];
}

/** What leads a group with the steps of those that are more urgent than itself before its own. */
function leading(finding: OpenAlert['finding'], worse: readonly Standing[]): OpenAlert['finding'] {
  const { found, ...rest } = finding;
  const theirs = worse
    .flatMap(({ finding: { advice, subject } }) =>
      (advice ?? []).map((one) => ({ ...one, on: one.on ?? subject })),
    )
    .filter(({ waits }) => waits !== true);
  const own = (finding.advice ?? []).filter(
    ({ text, asks }) => !theirs.some((one) => one.text === text || (asks !== undefined && one.asks === asks)),
  );
  const once = new Map(theirs.map((one): [string, Advice] => [one.text, { ...one, added: true }]));
  const advice = inOrder([...once.values(), ...own]);
  return { ...rest, ...found, advice, ...adviceWords(advice) };
}

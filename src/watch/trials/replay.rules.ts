import { type Aftermath, diffAlerts, type OpenAlert } from '../../alerts/diff.rules.ts';
import { type Finding, keyText, rankOf, type Severity } from '../../alerts/finding.ts';
import type { Rule } from '../rule-definition/rule.ts';

/** An alert that there would have been. Times are ISO 8601; `clearedAt` null while it would still stand. */
export interface ReplayedAlert {
  key: string;
  title: string;
  systemName: string;
  href: string;
  /** The most urgent it was. */
  severity: Severity;
  openedAt: string;
  clearedAt: string | null;
}

/** Of the past only what rules find is tried: nothing is asked of what people did then. */
const past: Aftermath = { endedBecause: () => '', answerTo: () => null, words: ({ found }) => found };

/**
 * The alerts one rule would have raised in one system, followed moment by moment with the same comparison as those of
 * the service: they open, stay and clear by the rule's own margins and quiet time.
 */
export class Replay {
  readonly #rule: Rule;
  readonly #systemName: string;
  #open: (OpenAlert & { told: ReplayedAlert })[] = [];
  readonly #told: ReplayedAlert[] = [];

  constructor(rule: Rule, systemName: string) {
    this.#rule = rule;
    this.#systemName = systemName;
  }

  /** What was found at the next moment. */
  follow(findings: readonly Finding[], now: Date): void {
    const plan = diffAlerts({
      open: this.#open,
      findings,
      rules: [this.#rule],
      now,
      goneBecause: () => null,
      aftermath: past,
    });
    const updates = new Map(plan.updates.map((update) => [update.id, update]));
    this.#open = this.#open.flatMap((alert) => {
      const update = updates.get(alert.id);
      if (update === undefined) return [alert];
      const { reported, worst, quietSince, finding, clearedReason } = update;
      alert.told.severity = worse(alert.told.severity, reported.severity);
      if (finding !== null) alert.told.title = finding.title;
      if (clearedReason !== null) alert.told.clearedAt = now.toISOString();
      return clearedReason === null
        ? [
            {
              ...alert,
              reported,
              worst,
              quietSince,
              finding: finding ?? alert.finding,
              severity: reported.severity,
            },
          ]
        : [];
    });
    for (const finding of plan.opened) this.#opens(finding, now);
  }

  #opens(finding: Finding, now: Date): void {
    const { score, severity, title, href } = finding;
    const key = keyText(finding);
    const told = {
      key,
      title,
      systemName: this.#systemName,
      href,
      severity,
      openedAt: now.toISOString(),
      clearedAt: null,
    };
    this.#told.push(told);
    this.#open.push({
      ...finding,
      id: `${this.#told.length}`,
      reported: { score, severity },
      worst: score,
      openedAt: now,
      finding,
      quietSince: null,
      putOffUntil: null,
      putOffWorst: null,
      told,
    });
  }

  /** All of them, in order of their opening. */
  get alerts(): readonly ReplayedAlert[] {
    return this.#told;
  }
}

const worse = (a: Severity, b: Severity): Severity => (rankOf(b) > rankOf(a) ? b : a);

/** Alerts of both runs side by side: the same subject at overlapping times is one row. */
export interface ComparedAlert {
  before: ReplayedAlert | null;
  after: ReplayedAlert | null;
}

/** Pairs what there would have been with the limit as it was and as it is tried, in order of time. */
export function compare(before: readonly ReplayedAlert[], after: readonly ReplayedAlert[]): ComparedAlert[] {
  const left = new Set(after);
  const rows = before.map((one): ComparedAlert => {
    const twin = [...left].find((other) => other.key === one.key && overlap(one, other)) ?? null;
    if (twin !== null) left.delete(twin);
    return { before: one, after: twin };
  });
  const opened = ({ before: one, after: other }: ComparedAlert) =>
    [one?.openedAt, other?.openedAt].filter((at) => at !== undefined).sort()[0] ?? '';
  return [...rows, ...[...left].map((one) => ({ before: null, after: one }))].sort((a, b) =>
    opened(a).localeCompare(opened(b)),
  );
}

function overlap(a: ReplayedAlert, b: ReplayedAlert): boolean {
  const end = ({ clearedAt }: ReplayedAlert) => clearedAt ?? '9999';
  return a.openedAt <= end(b) && b.openedAt <= end(a);
}

import { causesOf } from '../../../../src/alerts/causes.rules.ts';
import { diffAlerts, type OpenAlert } from '../../../../src/alerts/diff.rules.ts';
import { type Finding, keyText, rankOf } from '../../../../src/alerts/finding.ts';
import { groundOf } from '../../../../src/watch/advice/ground.ts';
import { withoutSeenTo } from '../../../../src/watch/advice/seen-to.rules.ts';
import { withComposedAdvice } from '../../../../src/watch/advice/told.rules.ts';
import type { Action } from '../../../../src/watch/answers/actions.ts';
import { aftermathOf } from '../../../../src/watch/answers/aftermath.rules.ts';
import type { SystemFacts } from '../../../../src/watch/facts/types.ts';
import { isReplaced } from '../../../../src/watch/rules/instruments/put-away.ts';
import { rules } from '../../../../src/watch/rules/registry.ts';
import { FarmSettings } from '../../../../src/watch/settings/settings.rules.ts';

const book = new FarmSettings([]);

/** One alert as people have it before them. */
export type Alert = OpenAlert;

/**
 * The alerts of one system: its rules judge, what they find is compared with what is open, what was done answers it, and the
 * advice of all is composed, by the service's own functions and in its own order. Kept in memory instead of in the database.
 */
export class SystemWatch {
  readonly #rules: typeof rules;
  open: Alert[] = [];
  #count = 0;

  constructor(without: readonly string[]) {
    this.#rules = rules.filter(({ name }) => !without.includes(name));
  }

  /** Judges what is known now; gives the alerts that opened. */
  evaluate(facts: SystemFacts, actions: readonly Action[], now: Date): Alert[] {
    const findings = this.#rules.flatMap((rule) =>
      rule.evaluate(facts, book.here(rule, facts.systemId), now),
    );
    const plan = withComposedAdvice(
      diffAlerts({
        ...{ open: this.open, rules: this.#rules, now },
        findings: withoutSeenTo(findings, { open: this.open, facts, actions, now }),
        goneBecause: (alert) => goneFrom(facts, alert),
        aftermath: aftermathOf(facts, actions, now),
      }),
      this.open,
      facts.systemId,
      groundOf(facts),
      now,
    );
    const updates = new Map(plan.updates.map((update) => [update.id, update]));
    const going = this.open.flatMap((alert): Alert[] => {
      const update = updates.get(alert.id);
      if (update === undefined) return [alert];
      if (update.clearedReason !== null) return [];
      const { reported, worst, quietSince } = update;
      const finding = update.finding ?? alert.finding;
      return [
        {
          ...alert,
          finding,
          reported,
          worst,
          quietSince,
          severity: update.severity ?? alert.severity,
          title: finding.title,
        },
      ];
    });
    const opened = plan.opened.map((finding) => this.#opened(finding, now));
    this.open = [...going, ...opened];
    const roots = new Set(this.told().map(({ id }) => id));
    return opened.filter(({ id }) => roots.has(id));
  }

  #opened(finding: Finding, now: Date): Alert {
    this.#count += 1;
    const { score, severity } = finding;
    return {
      ...{
        ...finding,
        id: `${finding.systemId} ${this.#count}`,
        openedAt: now,
        finding,
        reported: { score, severity },
      },
      ...{ worst: score, quietSince: null, putOffUntil: null, putOffWorst: null },
    };
  }

  /** What the digest tells, in its order: no alert that another one explains, the worst first (`src/alerts/order.ts`). */
  told(): Alert[] {
    const causes = causesOf(
      this.open.map(({ id, rule, subject, facet, finding, quietSince }) => ({
        ...{ id, key: { rule, subject, facet }, causes: finding.causes, causeId: null },
        quiet: quietSince !== null,
      })),
    );
    return this.open
      .filter(({ id }) => causes.get(id) === null)
      .sort(
        (a, b) =>
          rankOf(b.severity) - rankOf(a.severity) ||
          b.finding.score - a.finding.score ||
          a.openedAt.getTime() - b.openedAt.getTime(),
      );
  }
}

/** As the service has it, where things can go on this farm. */
function goneFrom(facts: SystemFacts, { subject }: OpenAlert): string | null {
  if (subject.type === 'lot' && !facts.lots.some(({ id }) => id === subject.id))
    return 'the lot is no longer in this system';
  if (subject.type !== 'kit' || facts.kits.some(({ id }) => id === subject.id)) return null;
  const away = facts.kitsPutAway.find(({ id }) => id === subject.id);
  return away === undefined || isReplaced(away) ? 'the kit is no longer used here' : null;
}

/** What stays the same of an alert from day to day. */
export const keyOf = (alert: Alert): string => keyText(alert);

import { type Advice, type Asked, advised } from '../../alerts/advice.ts';
import type { OpenAlert } from '../../alerts/diff.rules.ts';
import { type Finding, keyText, type Severity } from '../../alerts/finding.ts';
import { dateAtDay, dayOf, daysBetween } from '../../science/numeric/time.ts';
import type { Action } from '../answers/actions.ts';
import { quantityOfAlert } from '../answers/answers.rules.ts';
import type { SystemFacts } from '../facts/types.ts';
import { doubtfulKit } from '../rules/levels/kit-bias.ts';
import { dateOfDay } from '../rules/shared/words.ts';
import { groundOf, kitsBehind } from './ground.ts';

/**
 * So many days nobody is sent to the same thing again, where it was in order or set right (own choice): when it was seen to
 * for this very alert, and when before it opened. A standard holds for longer, since a bottle that reads right goes on doing so;
 * a doser may stop on the day after somebody saw to it.
 */
const seenToFor: Readonly<Record<Asked, { since: number; before: number }>> = {
  doser: { since: 14, before: 2 },
  standard: { since: 14, before: 7 },
  stock: { since: 7, before: 2 },
  test: { since: 7, before: 0 },
};

/** So many days it holds where the water harms the stock now: what was in order may have stopped since. Own choice. */
const whileItHarms = 1;

/** The longest of these: so far back actions are asked for. */
export const seenToDays = 14;

/** A standard that reads within this part of its value is read right; own choice: more than a bottle differs from the next. */
const readsRight = 0.05;
const fewestChecks = 2;

const words: Readonly<Record<Asked, string>> = {
  doser: 'the doser',
  standard: 'a standard, read right',
  stock: 'all stock',
  test: 'a test',
};

interface Known {
  open: readonly OpenAlert[];
  facts: SystemFacts;
  actions: readonly Action[];
  now: Date;
}

/**
 * Findings whose advice asks for no look that the log already holds: a doser serviced lately, a standard that the kit in use
 * read right. The alert says what was seen to and when. Where nothing else is asked for, the advice stays as it is.
 */
export function withoutSeenTo(findings: readonly Finding[], known: Known): Finding[] {
  const opened = new Map(known.open.map((alert) => [keyText(alert), alert.openedAt]));
  return findings.map((finding) => {
    const asked = [...new Set(finding.advice.flatMap(({ asks }) => asks ?? []))];
    const since = opened.get(keyText(finding)) ?? null;
    const seen = new Map(
      asked.flatMap((asks) => {
        const at = seenAt(asks, finding, known);
        return at !== null && isLate({ asks, at, since, severity: finding.severity }, known.now)
          ? [[asks, at] as const]
          : [];
      }),
    );
    const left = finding.advice.filter(({ asks }: Advice) => asks === undefined || !seen.has(asks));
    if (seen.size === 0 || left.length === 0) return finding;
    const said = [...seen].map(([asks, at]) => `${words[asks]} on ${dateOfDay(dayOf(at), known.facts)}`);
    return {
      ...finding,
      ...advised(...left),
      figures: [...finding.figures, { label: 'Seen to', text: said.join('; ') }],
    };
  });
}

/** Whether it was seen to so lately that it is not asked for again. */
function isLate(
  { asks, at, since, severity }: { asks: Asked; at: Date; since: Date | null; severity: Severity },
  now: Date,
): boolean {
  const { since: own, before } = seenToFor[asks];
  const days = since !== null && at >= since ? own : before;
  return daysBetween(at, now) <= (severity === 'now' ? Math.min(days, whileItHarms) : days);
}

/** When it was last seen to and in order; null where the log does not say. */
function seenAt(asks: Asked, finding: Finding, known: Known): Date | null {
  switch (asks) {
    case 'doser':
      return doserServicedAt(finding, known);
    case 'stock':
      return allSeenAt(known.facts);
    case 'test': {
      const tests = finding.evidence.flatMap(({ kind, at }) => (kind === 'reading' ? Date.parse(at) : []));
      return tests.length === 0 ? null : new Date(Math.max(...tests));
    }
    case 'standard':
      return standardReadAt(finding, known);
  }
}

/** When a doser of what the finding tells of was serviced. One of something else, or of nobody knows what, is not it. */
function doserServicedAt(finding: Finding, { facts, actions }: Known): Date | null {
  const code = quantityOfAlert(finding, facts);
  const isIts = ({ kind, quantityCode, contents }: Action) =>
    kind === 'serviced' &&
    quantityCode === 'doser' &&
    contents !== null &&
    (Object.keys(contents).length === 0 || (code !== null && Object.hasOwn(contents, code)));
  return actions.findLast(isIts)?.at ?? null;
}

/** Since when every lot was looked at; null where one never was, or nothing stands there. */
function allSeenAt({ lots }: SystemFacts): Date | null {
  const last = lots.map(({ conditions: [latest] }) => latest?.day ?? null);
  return last.length === 0 || last.includes(null) ? null : dateAtDay(Math.min(...last.map(Number)));
}

/** When the kit in use read a standard right, in duplicate at least. */
function standardReadAt(finding: Finding, { facts, now }: Known): Date | null {
  const [kitId] = kitsBehind(finding, groundOf(facts));
  if (kitId === undefined || doubtfulKit(facts, kitId, now) !== null) return null;
  const checks = [...facts.kits, ...facts.visitingKits].find(({ id }) => id === kitId)?.checks ?? [];
  const last = checks.slice(-fewestChecks);
  const off = last.reduce((sum, { value, standard }) => sum + value / standard - 1, 0) / fewestChecks;
  const newest = last.at(-1);
  return last.length < fewestChecks || newest === undefined || Math.abs(off) > readsRight
    ? null
    : dateAtDay(newest.day);
}

import { type FindingKey, keyText } from './finding.ts';

/** An open alert as the search for causes sees it. */
export interface Linked {
  id: string;
  key: FindingKey;
  causes: readonly FindingKey[];
  causeId: string | null;
  /** Its rule does not find it any more: it explains nothing that is found now. */
  quiet: boolean;
}

/**
 * The alert that explains each one: the first of its causes that is open, followed to its own cause, so that one cause
 * gathers all it explains. Null where none is open, or is found any more: what goes on is told by itself then. Alerts in a ring of causes, and those it would explain, stay roots, so
 * that people see them.
 */
export function causesOf(alerts: readonly Linked[]): Map<string, string | null> {
  const byKey = new Map(alerts.filter(({ quiet }) => !quiet).map((alert) => [keyText(alert.key), alert]));
  const causeOf = (alert: Linked): Linked | undefined =>
    alert.causes.map((key) => byKey.get(keyText(key))).find((cause) => cause !== undefined);
  return new Map(alerts.map((alert) => [alert.id, rootCause(alert, causeOf)?.id ?? null]));
}

/** The last alert of the chain of causes that begins at this one; null where it has no cause, or the chain is a ring. */
function rootCause(alert: Linked, causeOf: (alert: Linked) => Linked | undefined): Linked | null {
  const chain = new Set([alert]);
  let root: Linked | null = null;
  for (let next = causeOf(alert); next !== undefined; next = causeOf(next)) {
    if (chain.has(next)) return null;
    chain.add(next);
    root = next;
  }
  return root;
}

import { type FindingKey, keyText } from './finding.ts';

/** An open alert as the search for causes sees it. */
export interface Linked {
  id: string;
  key: FindingKey;
  causes: readonly FindingKey[];
  causeId: string | null;
}

/**
 * The alert that explains each one: the first of its causes that is open, followed to its own cause, so that one cause
 * gathers all it explains. Null where none is open. A ring of causes explains nothing.
 */
export function causesOf(alerts: readonly Linked[]): Map<string, string | null> {
  const byKey = new Map(alerts.map((alert) => [keyText(alert.key), alert]));
  const causeOf = (alert: Linked): Linked | undefined =>
    alert.causes.map((key) => byKey.get(keyText(key))).find((cause) => cause !== undefined);
  return new Map(
    alerts.map((alert) => {
      const seen = new Set([alert.id]);
      let root = causeOf(alert);
      for (let next = root; next !== undefined && !seen.has(next.id); next = causeOf(next)) {
        seen.add(next.id);
        root = next;
      }
      return [alert.id, root === undefined || root.id === alert.id ? null : root.id];
    }),
  );
}

/**
 * One thing that happened to looks: one was asked for under a key (asked for again under it, it gets the new time; `due` null: it is
 * no longer asked for), or somebody looked.
 */
export type LookEvent = { key: string; due: Date | null } | { looked: Date };

/**
 * The looks that are still to be taken, by their keys, the next one first. None takes the place of another that was asked for by
 * something else: a test in twelve hours leaves the one in thirty minutes as it is. Who looked has seen to all that was due by
 * then, or, where nothing was due yet, to the next one.
 * @param events oldest first
 */
export function looksDue(events: readonly LookEvent[]): [key: string, due: Date][] {
  const waiting = new Map<string, Date>();
  for (const event of events) {
    if (!('looked' in event)) {
      if (event.due === null) waiting.delete(event.key);
      else waiting.set(event.key, event.due);
      continue;
    }
    const seen = inOrder(waiting).filter(([, due]) => due <= event.looked);
    for (const [key] of seen.length > 0 ? seen : inOrder(waiting).slice(0, 1)) waiting.delete(key);
  }
  return inOrder(waiting);
}

const inOrder = (waiting: ReadonlyMap<string, Date>) =>
  [...waiting].toSorted(([, a], [, b]) => a.getTime() - b.getTime());

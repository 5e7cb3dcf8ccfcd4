import { setImmediate } from 'node:timers/promises';

/** How long work goes on before others get their turn. */
const turnMs = 10;

/** Call it between pieces of long work: it lets others have their turn once this one has taken long enough. */
export function yieldLoop(): () => Promise<void> | undefined {
  let since = performance.now();
  return () => {
    if (performance.now() - since < turnMs) return undefined;
    return setImmediate().then(() => {
      since = performance.now();
    });
  };
}

/** The same as `Map.groupBy`, of a list so long that others want their turn meanwhile. */
export async function groupInTurns<T>(
  items: readonly T[],
  keyOf: (item: T) => string,
): Promise<Map<string, T[]>> {
  const breathe = yieldLoop();
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const key = keyOf(item);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [item]);
    else group.push(item);
    await breathe();
  }
  return groups;
}

/** The same as `map` of a list, in turns with others. */
export async function mapInTurns<T, Made>(items: readonly T[], make: (item: T) => Made): Promise<Made[]> {
  const breathe = yieldLoop();
  const made: Made[] = [];
  for (const item of items) {
    made.push(make(item));
    await breathe();
  }
  return made;
}

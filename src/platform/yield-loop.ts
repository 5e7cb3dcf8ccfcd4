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

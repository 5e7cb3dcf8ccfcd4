import { Refusal } from './refusal.ts';

/**
 * Lets so many do something at the same time; the others wait for their turn in the order in which they came.
 * @param patienceMs after which whoever waits is told to come again
 * @returns does it when its turn has come; throws Refusal 503 when that takes too long
 */
export function takeTurns(atOnce: number, patienceMs: number): <T>(act: () => Promise<T>) => Promise<T> {
  let busy = 0;
  const waiting = new Set<() => void>();
  const turn = () =>
    new Promise<void>((resolve, reject) => {
      const late = setTimeout(() => {
        waiting.delete(begin);
        reject(new Refusal('The service is busy. Ask again in a moment.', { status: 503 }));
      }, patienceMs);
      const begin = () => {
        clearTimeout(late);
        resolve();
      };
      waiting.add(begin);
    });
  return async (act) => {
    // Whoever ends hands the turn on, so that nobody comes in between.
    if (busy >= atOnce) await turn();
    else busy += 1;
    try {
      return await act();
    } finally {
      const [next] = waiting;
      if (next === undefined) busy -= 1;
      else {
        waiting.delete(next);
        next();
      }
    }
  };
}

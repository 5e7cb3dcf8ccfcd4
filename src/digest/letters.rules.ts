import { minuteMs } from '../science/numeric/time.ts';

/** After these many tries a letter is given up: about twelve hours. */
const MOST_TRIES = 10;

/**
 * When a letter is tried again after its n-th failure: after 1, 2, 4, ... minutes, at most two hours; null when it is
 * given up, because the server refused it for good or because it was tried often enough.
 */
export function nextTry(attempts: number, forGood: boolean, now: Date): Date | null {
  if (forGood || attempts >= MOST_TRIES) return null;
  return new Date(now.getTime() + Math.min(120, 2 ** (attempts - 1)) * minuteMs);
}

import { fingerprintOf } from './change.ts';
import { staleEdit } from './refusal.ts';

/** What a form was drawn from, in a few signs, where no version is counted: it goes along as the hidden field `seen`. */
export const seenOf = (what: unknown): string => fingerprintOf(what).slice(0, 20);

/**
 * Holds an edit to what its form was drawn from.
 * @param seen as the form sent it; empty from programs, which edit what is there
 * @throws Refusal 409 where it is something else now
 */
export function holdToSeen(seen: string, now: unknown, what: string): void {
  if (seen !== '' && seen !== seenOf(now)) throw staleEdit(what);
}

/** The hidden field `seen` of a form's body; empty where there is none. */
export function seenIn(body: unknown): string {
  const { seen } = (body ?? {}) as { seen?: unknown };
  return typeof seen === 'string' ? seen : '';
}

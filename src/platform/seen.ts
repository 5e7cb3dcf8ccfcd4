import { fingerprintOf, type Work } from './change.ts';
import { staleEdit } from './refusal.ts';
import type { Reader } from './service.ts';

/** What a form was drawn from, in a few signs, where no version is counted: it goes along as the hidden field `seen`. */
export const seenOf = (what: unknown): string => fingerprintOf(what).slice(0, 20);

/** Something settled that a form writes over, where no version is counted. */
export interface Standing {
  /** As it follows "Somebody changed": "the times of what is off". */
  what: string;
  /** What stands there; anything that JSON can say. */
  read(reader: Reader): Promise<unknown>;
}

/** What a form is drawn from. */
export const seenNow = async (db: Reader, { read }: Standing): Promise<string> => seenOf(await read(db));

/**
 * Holds an edit to what its form was drawn from.
 * @param seen as it was sent; empty where a form holds nothing that could have changed
 * @throws Refusal 409 where it is something else now
 */
export function holdToSeen(seen: string, now: unknown, what: string): void {
  if (seen !== '' && seen !== seenOf(now)) throw staleEdit(what);
}

/** Holds an edit to what its form was drawn from; of two that come at once the second waits. @throws Refusal 409 */
export async function holdToStanding({ tx }: Work, seen: string, { what, read }: Standing): Promise<void> {
  if (seen === '') return;
  await tx.$executeRaw`SELECT pg_advisory_xact_lock(hashtextextended(${`edit ${what}`}, 0))`;
  holdToSeen(seen, await read(tx), what);
}

/** The hidden field `seen` of a form's body; empty where there is none. */
export function seenIn(body: unknown): string {
  const { seen } = (body ?? {}) as { seen?: unknown };
  return typeof seen === 'string' ? seen : '';
}

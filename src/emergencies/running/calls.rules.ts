import { minuteMs } from '../../science/numeric/time.ts';
import { type Noted, nextLook } from './progress.rules.ts';

/** Somebody on call, in the order in which they are called. */
export interface OnCall {
  id: string;
  name: string;
}

/** So many are called one after the other; then all of them at once (own choice). */
const mostInTurn = 3;

/** Who is called now: one of them, all at once, or the managers where nobody is on call. */
export type Call<Person extends OnCall> = { to: Person } | { to: 'all' } | { to: 'managers' };

/** Who that is, in words. */
export function calledName(to: Call<OnCall>['to']): string {
  if (to === 'managers') return 'the managers';
  return to === 'all' ? 'everybody on call' : to.name;
}

/** An emergency of which nobody noted anything is taken for left alone after so many silences; own choice. */
const silencesUnticked = 3;

/** The calls that nobody has answered yet: made since somebody last took it or looked, oldest first. */
export function openCalls(entries: readonly Noted[]): readonly Noted[] {
  const answered = entries.findLastIndex(({ kind }) => kind === 'taken' || kind === 'looked');
  return entries.slice(answered + 1).filter(({ kind }) => kind === 'called');
}

/** Who took it last: the entry that says so; null where nobody did since it was last called. */
export function takenBy(entries: readonly Noted[]): Noted | null {
  const last = entries.findLast(({ kind }) => kind === 'taken' || kind === 'called');
  return last?.kind === 'taken' ? last : null;
}

/**
 * When the next one is called if nobody answers; null where nothing waits for an answer, or all were called. An emergency that was
 * begun and left without a tick waits for one too.
 */
export function nextCallAt(entries: readonly Noted[], silenceMin: number, startedAt: Date): Date | null {
  const open = openCalls(entries);
  const last = open.at(-1);
  if (last !== undefined)
    return last.contactId === null ? null : new Date(last.at.getTime() + silenceMin * minuteMs);
  const due = nextLook(entries);
  if (due === null)
    return entries.some(({ who }) => who !== null)
      ? null
      : new Date(startedAt.getTime() + silencesUnticked * silenceMin * minuteMs);
  // Who ticks steps is there, though they have not said that they looked.
  const seen = entries.findLast(({ who }) => who !== null)?.at ?? due;
  return new Date(Math.max(due.getTime(), seen.getTime()) + silenceMin * minuteMs);
}

/** Who is the next to be called: the first on the list whom no open call went to; all, once three did not answer; the managers where the list is empty. */
export function nextCall<Person extends OnCall>(
  entries: readonly Noted[],
  onCall: readonly Person[],
): Call<Person> | null {
  const open = openCalls(entries);
  const called = new Set(open.map(({ contactId }) => contactId));
  if (called.has(null)) return null;
  if (onCall.length === 0) return { to: 'managers' };
  const next = onCall.find(({ id }) => !called.has(id));
  return next === undefined || called.size >= mostInTurn ? { to: 'all' } : { to: next };
}

import type { EmergencyEntryKind } from '../../generated/prisma/enums.ts';
import { type LookEvent, looksDue } from '../../science/numeric/looks-due.ts';
import type { EmergencyEvent, Step } from '../events/event.ts';

/** One entry as the page reads it, oldest first. */
export interface Noted {
  id: string;
  kind: EmergencyEntryKind;
  step: string;
  text: string;
  at: Date;
  dueAt: Date | null;
  who: string | null;
  /** Who was called or took it, where that is somebody on the farm's list. */
  contactId: string | null;
}

/** The look of an emergency as it was ticked off elsewhere: on its alert, or as due work. */
export interface TickedLook {
  id: string;
  at: Date;
  who: string | null;
  note: string;
}

/** A step with who ticked it, and when. */
export interface StepState {
  step: Step;
  done: { at: Date; who: string | null } | null;
}

/** Each step with its last tick. */
export function stepStates(event: EmergencyEvent, entries: readonly Noted[]): StepState[] {
  return event.steps.map((step) => {
    const last = entries.findLast(
      ({ kind, step: code }) => code === step.code && (kind === 'done' || kind === 'undone'),
    );
    return { step, done: last?.kind === 'done' ? { at: last.at, who: last.who } : null };
  });
}

/** What looks are worked out from. */
export type LookEntry = Pick<Noted, 'kind' | 'step' | 'at' | 'dueAt'>;

/**
 * The looks that are still to be taken, the next one first: those that ticked steps bring, and the one that somebody asked for
 * last. Keys are the steps' codes; '' is the one asked for.
 */
export function looksToTake(entries: readonly LookEntry[]): [step: string, due: Date][] {
  return looksDue(
    entries.flatMap(({ kind, step, at, dueAt }): LookEvent[] => {
      if (kind === 'looked') return [{ looked: at }];
      if (kind === 'undone') return [{ key: step, due: null }];
      return dueAt === null ? [] : [{ key: kind === 'done' ? step : '', due: dueAt }];
    }),
  );
}

/**
 * The entries with a look that was ticked off elsewhere among them, wherever one was still to be taken by the entries: on the
 * page of the emergency and in its calls somebody has looked, as the farm's looks say.
 */
export function withTick<E extends LookEntry>(
  entries: readonly E[],
  ticked: TickedLook | null,
  entryOf: (ticked: TickedLook) => E,
): readonly E[] {
  if (ticked === null) return entries;
  const later = entries.findIndex(({ at }) => at > ticked.at);
  const before = later === -1 ? entries : entries.slice(0, later);
  if (looksToTake(before).length === 0) return entries;
  return [...before, entryOf(ticked), ...entries.slice(before.length)];
}

/** The next look that is due; null where none is. */
export const nextLook = (entries: readonly LookEntry[]): Date | null => looksToTake(entries)[0]?.[1] ?? null;

import type { EmergencyEntryKind } from '../../generated/prisma/enums.ts';
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

/** The next look that is due: the last one asked for after which nobody has looked; null where none is. */
export function nextLook(entries: readonly Pick<Noted, 'kind' | 'dueAt'>[]): Date | null {
  return entries.findLast(({ kind, dueAt }) => kind === 'looked' || dueAt !== null)?.dueAt ?? null;
}

import type { RoundSheet } from './round-sheet.ts';

/** How far a step of a round is in one system, by all that is known of it. */
export interface StepState {
  /** Nothing of it is left to do on this round. */
  done: boolean;
  /** When it was done last, on this round or earlier on its day; null where it was not. */
  at: Date | null;
  /** Whether that was on this round. */
  here: boolean;
}

type Facts = Pick<RoundSheet, 'tested' | 'fed' | 'fedBefore' | 'tasks'>;

/** Feeding: where it is planned as work that is due, the plan says whether any is left; else it belongs to each round. */
export function feedingState({ fed, fedBefore, tasks }: Facts, systemId: string): StepState {
  const here = fed.findLast((one) => one.systemId === systemId)?.at ?? null;
  const isPlanned = planned(tasks, 'feeding', systemId);
  return {
    done: here !== null || isPlanned,
    at: here ?? fedBefore.get(systemId) ?? null,
    here: here !== null,
  };
}

/** Testing, likewise. */
export function testingState({ tested, tasks }: Facts, systemId: string): StepState {
  const at = tested.findLast((one) => one.systemId === systemId)?.at ?? null;
  return { done: at !== null || planned(tasks, 'test', systemId), at, here: at !== null };
}

/** Whether such work was due there and is all done. */
function planned(tasks: Facts['tasks'], work: string, systemId: string): boolean {
  const due = tasks.filter((task) => task.systemId === systemId && task.work === work);
  return due.length > 0 && due.every(({ done }) => done);
}

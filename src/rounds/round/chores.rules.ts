import type { Plan } from '../plans/plans.ts';
import type { SavedEntry } from './saved-entries.ts';

/** Something ticked off on a round: a step of one system, or a chore of the farm's own. */
export interface Chore {
  /** "clean:<system>", or "own:<words>". */
  key: string;
  /** Null of a chore of the whole round. */
  systemId: string | null;
  title: string;
}

const stepTitles = {
  dose: 'Doses given',
  clean: 'Cleaned',
  check: 'Equipment checked',
} as const;

type TickedStep = keyof typeof stepTitles;

const isTicked = (step: string): step is TickedStep => step in stepTitles;

/** What a plan has ticked off: its steps in each system, then its own chores. */
export function choresOf(
  { steps, chores }: Pick<Plan, 'steps' | 'chores'>,
  systemIds: readonly string[],
): Chore[] {
  const ofSystems = systemIds.flatMap((systemId) =>
    steps.filter(isTicked).map((step) => ({ key: `${step}:${systemId}`, systemId, title: stepTitles[step] })),
  );
  return [...ofSystems, ...chores.map((title) => ({ key: `own:${title}`, systemId: null, title }))];
}

const stepKey = /^(dose|clean|check):([0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12})$/i;

/** What a key stands for; null where it stands for nothing. A chore that the plan no longer has still was done. */
export function choreOf(key: string): Chore | null {
  const step = stepKey.exec(key);
  if (step !== null)
    return { key, systemId: step[2] ?? null, title: stepTitles[step[1]?.toLowerCase() as TickedStep] };
  const title = key.startsWith('own:') ? key.slice(4).trim() : '';
  return title === '' ? null : { key, systemId: null, title };
}

/** A chore, and by whom and when it was done. */
export interface ChoreDone extends Chore {
  /** `wrong`: it was done, and something was found that is wrong. */
  done: { at: Date; who: string | null; note: string; wrong: boolean } | null;
  /** Answered with "all right" or "something is wrong". */
  check: boolean;
}

/** Each chore with the first time it was ticked off on this round. */
export function choresDone(chores: readonly Chore[], notes: readonly SavedEntry[]): ChoreDone[] {
  const ticked = notes.filter((note) => note.kind === 'chore' || note.kind === 'fault');
  return chores.map((one) => {
    const note = ticked.find(({ detail }) => detail.key === one.key);
    return {
      ...one,
      check: one.key.startsWith('check:'),
      done:
        note === undefined
          ? null
          : { at: note.at, who: note.who, note: note.detail.note ?? '', wrong: note.kind === 'fault' },
    };
  });
}

import { minuteMs } from '../../science/numeric/time.ts';

/** A plan: steps in an order, each done on a day or left out, until the plan ends. */
export interface StepwisePlan {
  id: string;
  createdAt: Date;
  /** When it ended, done or stopped; null while it runs. */
  endedAt: Date | null;
  /** Counts every change, so that an edit of an older page is noticed. */
  version: number;
}

/** A step of a plan: open, done, or left out for good. */
export interface StepwisePlanStep {
  id: string;
  position: number;
  doneAt: Date | null;
  leftOutAt: Date | null;
}

/** Whether the plan still goes on, paused or not. */
export const isRunning = ({ endedAt }: Pick<StepwisePlan, 'endedAt'>): boolean => endedAt === null;

/** Whether a step is neither done nor left out. */
export const isOpen = ({ doneAt, leftOutAt }: { doneAt: unknown; leftOutAt: unknown }): boolean =>
  doneAt === null && leftOutAt === null;

/** The same as SQL, of a table of steps under a name. */
export const openInSql = (steps: string): string =>
  `(${steps}.done_at IS NULL AND ${steps}.left_out_at IS NULL)`;

/** The first open step; null when all are settled. @param steps by position */
export const firstOpen = <S extends StepwisePlanStep>(steps: readonly S[]): S | null =>
  steps.find(isOpen) ?? null;

/** When the last step was done; null before the first. */
export function lastDoneAt(steps: readonly Pick<StepwisePlanStep, 'doneAt'>[]): Date | null {
  const times = steps.flatMap(({ doneAt }) => (doneAt === null ? [] : [doneAt.getTime()]));
  return times.length === 0 ? null : new Date(Math.max(...times));
}

/** Forms tell the time to the minute, and a tablet's clock may be slow: a step may lie this much before its plan. */
const CLOCK_SLACK_MS = 5 * minuteMs;

/** Why a step cannot have been done at that time, before it was planned; null when it can. */
export function beforePlanned({ createdAt }: Pick<StepwisePlan, 'createdAt'>, at: Date): string | null {
  return at.getTime() < createdAt.getTime() - CLOCK_SLACK_MS
    ? 'It cannot be done before it was planned. Check the time.'
    : null;
}

/** "1 of 3 steps done". */
export function doneWords(steps: readonly Pick<StepwisePlanStep, 'doneAt'>[]): string {
  const done = steps.filter(({ doneAt }) => doneAt !== null).length;
  return `${done} of ${steps.length} ${steps.length === 1 ? 'step' : 'steps'} done`;
}

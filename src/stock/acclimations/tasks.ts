import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { waitsForWater } from '../pests/troubles.ts';
import { readStepContext, type StepContext, stepHold } from './next-step.ts';
import { type Acclimation, type AcclimationStep, nextSteps, readAcclimations } from './state.ts';

/** A step that is due on its site's present day, with why it is held back; or one that was done on that day. */
export interface DueAcclimationStep {
  acclimation: Acclimation;
  step: AcclimationStep;
  systemId: string;
  held: string | null;
  done: boolean;
  overdueDays: number;
}

/** Steps of acclimations due in these systems today, and those done today. Twenty-one queries at most, however many. */
export async function dueAcclimationSteps(
  reader: SqlReader,
  systemIds: readonly string[],
  now: Date,
): Promise<DueAcclimationStep[]> {
  const all = await readAcclimations(reader, { systemIds, endedSince: daysBefore(now, 1) });
  if (all.length === 0) return [];
  const context = await readStepContext(reader, all, now);
  return all.flatMap((one) => dueOf(one, context)).filter(({ systemId }) => systemIds.includes(systemId));
}

function waterHold({ id }: AcclimationStep, { troubles }: StepContext): string | null {
  const why = troubles.get(id);
  return why === undefined ? null : waitsForWater(why);
}

function dueOf(acclimation: Acclimation, context: StepContext): DueAcclimationStep[] {
  const today = localDay(context.now, acclimation.timeZone);
  const done = acclimation.steps.filter(
    ({ doneAt }) => doneAt !== null && localDay(doneAt, acclimation.timeZone) === today,
  );
  const due =
    acclimation.endedAt !== null ? [] : nextSteps(acclimation).filter((step) => step.dueOn <= today);
  const base = (step: AcclimationStep) => ({ acclimation, step, systemId: step.systemId ?? '' });
  return [
    ...done.map((step) => ({ ...base(step), held: null, done: true, overdueDays: 0 })),
    ...due.map((step) => ({
      ...base(step),
      held: stepHold(acclimation, step, context)?.words ?? waterHold(step, context),
      done: false,
      overdueDays: Math.max(0, calendarDaysBetween(step.dueOn, today)),
    })),
  ];
}

import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import type { Work } from '../../platform/change.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import { whenWords } from '../../platform/words/times.ts';
import { addDose } from '../log/doses.ts';
import { addFeeding } from '../log/feedings.ts';
import { addWaterChange } from '../log/water-changes.ts';
import { type RoutinePlan, routineCautions, routineDetail, routineTitle } from './routines.rules.ts';
import { listRoutines, lockRoutine, type Routine } from './routines.ts';

/** Routines that are overdue, or due or done on the present day of their site. One query. */
export async function routineTasks(
  pool: pg.Pool,
  systemIds: readonly string[],
  now: Date,
): Promise<DueTask[]> {
  const { running } = await listRoutines(pool, systemIds, now);
  return running.map((routine) => taskOf(routine, now)).filter((task) => task.done || task.overdueDays >= 0);
}

function taskOf(routine: Routine, now: Date): DueTask {
  const { id, plan, systemId, systemName, systemVolumeL, dueOn, lastOn, timeZone } = routine;
  const today = localDay(now, timeZone);
  const done = lastOn === today && dueOn > today;
  return {
    key: `routine:${id}`,
    work: plan.work,
    systemId,
    systemName,
    title: routineTitle(routine),
    detail: done ? routineDetail(routine, now).slice(-1) : routineDetail(routine, now),
    cautions: done ? [] : routineCautions(plan, systemVolumeL),
    held: null,
    dueOn: done ? today : dueOn,
    overdueDays: done ? 0 : calendarDaysBetween(dueOn, today),
    done,
    href: `/water/systems/${systemId}/routines`,
    amount: amountOf(plan),
    pumpsOffMin: plan.work === 'feeding' ? plan.pumpsOffMin : null,
  };
}

function amountOf(plan: RoutinePlan): { value: number; unit: string } | null {
  if (plan.work === 'water_change') return { value: plan.volumeL, unit: 'L' };
  if (plan.work === 'dose') return { value: plan.amount, unit: plan.unit };
  return plan.work === 'feeding' && plan.amountG !== null ? { value: plan.amountG, unit: 'g' } : null;
}

/** A routine that was done; `amount` where it differs from the plan. */
export interface RoutineDone {
  routineId: string;
  at: Date;
  amount: number | null;
  note: string;
}

/**
 * Logs a routine as done, with the planned amount or the one that was really taken.
 * @throws Refusal 404; 409 when it is logged already; 422 a test, which is done by entering what it read
 */
export async function doRoutine(
  work: Work,
  { routineId, at, amount, note }: RoutineDone,
): Promise<{ systemId: string; feedingId: string | null; what: string }> {
  const routine = await lockRoutine(work.tx, routineId, work.now);
  const { plan, systemId, timeZone, lastAt, dueOn } = routine;
  const what = routineTitle(routine);
  if (lastAt !== null && dueOn > localDay(at, timeZone)) {
    const when = whenWords(lastAt, timeZone, work.now);
    const message = `${what}: something of the kind is logged already, ${when}. Leave this out; if it was really done twice, enter it on the system’s page.`;
    throw new Refusal(message, { status: 409 });
  }
  const feedingId = await logRoutine(work, systemId, plan, { at, amount, note });
  work.record('routine.done', { type: 'routine', id: routineId }, { what, at });
  return { systemId, feedingId, what };
}

/** Adds the entry to the log of the noun; the id of a feeding, whose pumps may be off. */
async function logRoutine(
  work: Work,
  systemId: string,
  plan: RoutinePlan,
  { at, amount, note }: Omit<RoutineDone, 'routineId'>,
): Promise<string | null> {
  switch (plan.work) {
    case 'test':
      throw new Refusal('A test is done once its result is entered.');
    case 'water_change':
      // On a round the comment is the one place to say why.
      await addWaterChange(work, systemId, {
        amount: amount ?? plan.volumeL,
        unit: 'L',
        at,
        note,
        reason: note,
      });
      return null;
    case 'dose': {
      const { substance, unit } = plan;
      const dose = {
        substance,
        unit,
        amount: amount ?? plan.amount,
        quantityCode: '',
        rise: null,
        at,
        note,
        reason: note,
      };
      await addDose(work, systemId, dose);
      return null;
    }
    case 'feeding': {
      const { food, tankId, pumpsOffMin } = plan;
      const feeding = {
        food,
        tankId,
        pumpsOffMin,
        amountG: amount ?? plan.amountG,
        response: note,
        reason: note,
        at,
      };
      return (await addFeeding(work, systemId, feeding)).id;
    }
  }
}

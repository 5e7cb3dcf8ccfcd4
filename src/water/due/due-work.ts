import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { correctionTasks } from '../corrections/tasks.ts';
import { routineTasks } from '../routines/tasks.ts';

/** The work due, overdue or done in these systems on their present day; the longest overdue comes first. */
export async function dueWork(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  const tasks = await Promise.all([
    routineTasks(pool, systemIds, now),
    correctionTasks(pool, systemIds, now),
  ]);
  return tasks.flat().sort((a, b) => b.overdueDays - a.overdueDays);
}

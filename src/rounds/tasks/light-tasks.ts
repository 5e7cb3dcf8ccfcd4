import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { numberWords } from '../../platform/words/numbers.ts';
import { type DueAcclimationStep, dueAcclimationSteps } from '../../stock/acclimations/tasks.ts';
import { acclimationStepTitle, cautionWords } from '../../stock/acclimations/view.ts';

/** Steps of acclimations as work on a round: a lot is moved, or lamps are turned. */
export async function lightTasks(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  const due = await dueAcclimationSteps(pool, systemIds, now);
  if (due.length === 0) return [];
  const names = await pool.query<{ id: string; name: string }>(
    'SELECT id, name FROM system WHERE id = ANY($1::uuid[])',
    [systemIds],
  );
  const nameOf = new Map(names.rows.map(({ id, name }) => [id, name]));
  return due.map((one) => taskOf(one, nameOf.get(one.systemId) ?? ''));
}

function taskOf(
  { acclimation, step, systemId, held, done, overdueDays }: DueAcclimationStep,
  systemName: string,
): DueTask {
  const last = Math.max(...acclimation.steps.map((one) => one.position));
  const light =
    step.par === null ? '' : ` Its light there: about ${numberWords(Math.round(step.par))} µmol/(m² s).`;
  return {
    key: `light:${step.id}`,
    work: 'light',
    systemId,
    systemName,
    title: acclimationStepTitle(step),
    detail: [`Step ${step.position} of ${last}: ${acclimation.name}.${step.lampId === null ? light : ''}`],
    cautions: done ? [] : [cautionWords(step.lampId !== null)],
    held,
    dueOn: step.dueOn,
    overdueDays,
    done,
    href: `/stock/acclimations/${acclimation.id}`,
  };
}

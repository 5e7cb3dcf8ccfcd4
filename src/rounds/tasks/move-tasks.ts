import type pg from 'pg';
import type { DueTask } from '../../farm/tasks/due-task.ts';
import { LIFT_CAUTION, MOVE_CAUTIONS, moveTitle } from '../../racks/move-plans/state.ts';
import { dueMoves } from '../../racks/move-plans/tasks.ts';

/** Moves of plans as work on a round, each once its place is free. */
export async function moveTasks(pool: pg.Pool, systemIds: readonly string[], now: Date): Promise<DueTask[]> {
  const due = await dueMoves(pool, systemIds, now);
  return due.map(({ plan, move, held, done, dueOn, overdueDays }): DueTask => {
    const from = move.stands === '' ? 'It stands nowhere now.' : `It stands in ${move.stands} now.`;
    const step = `Move ${move.position} of ${plan.moves.length}: ${plan.name}.`;
    return {
      key: `move:${move.id}`,
      work: 'move',
      systemId: move.systemId,
      systemName: move.systemName,
      title: moveTitle(move),
      detail: done ? [step] : [`${move.kind}. ${from}`, move.why, step].filter((line) => line !== ''),
      cautions: done ? [] : move.place === '' ? [LIFT_CAUTION] : MOVE_CAUTIONS,
      held,
      dueOn,
      overdueDays,
      done,
      href: `/moves/${plan.id}`,
    };
  });
}

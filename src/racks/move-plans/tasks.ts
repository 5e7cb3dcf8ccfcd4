import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { calendarDaysBetween, localDay } from '../../platform/days.ts';
import { isOpen, isRunning } from '../../platform/plans/plans.rules.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import { waitsForWater } from '../../stock/pests/troubles.ts';
import { type MovePlanState, type MoveState, readMovePlans, waitsFor } from './state.ts';
import { openMoveTroubles } from './troubles.ts';

/** A move that is to be done in a system, with why it has to wait; or one that was done there today. */
export interface DueMove {
  plan: MovePlanState;
  move: MoveState;
  held: string | null;
  done: boolean;
  dueOn: string;
  overdueDays: number;
}

/** Moves of running plans that go to places in these systems, and those done there today. Four queries at most. */
export async function dueMoves(
  reader: SqlReader,
  systemIds: readonly string[],
  now: Date,
): Promise<DueMove[]> {
  // A plan that ended today may have been done today.
  const plans = await readMovePlans(reader, { endedSince: daysBefore(now, 1) });
  const troubles = await openMoveTroubles(reader, plans);
  return plans
    .flatMap((plan) => duesOf(plan, troubles, now))
    .filter(({ move }) => systemIds.includes(move.systemId));
}

function duesOf(plan: MovePlanState, troubles: ReadonlyMap<string, string>, now: Date): DueMove[] {
  const today = localDay(now, plan.timeZone);
  const dueOn = localDay(plan.createdAt, plan.timeZone);
  const overdueDays = Math.max(0, calendarDaysBetween(dueOn, today));
  const done = plan.moves
    .filter(({ doneAt }) => doneAt !== null && localDay(doneAt, plan.timeZone) === today)
    .map((move) => ({ plan, move, held: null, done: true, dueOn: today, overdueDays: 0 }));
  if (!isRunning(plan)) return done;
  const open = plan.moves.filter(isOpen).map((move) => {
    const trouble = troubles.get(move.id);
    const held = waitsFor(plan, move) ?? (trouble === undefined ? null : waitsForWater(trouble));
    return { plan, move, held, done: false, dueOn, overdueDays };
  });
  return [...done, ...open];
}

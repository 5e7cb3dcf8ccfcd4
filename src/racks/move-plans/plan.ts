import { isOpen } from '../../platform/plans/plans.rules.ts';
import type { PlanKind } from '../../platform/plans/plans.ts';
import { type MovePlanState, type MoveState, readMovePlans } from './state.ts';

/** Plans of moves as plans. The order of moves is told by `waitsFor`; the last one settled ends a plan. */
export const movePlan: PlanKind<MovePlanState, MoveState> = {
  planName: 'plan',
  stepName: 'move',
  lockQuery: 'SELECT id FROM move_plan WHERE id = $1::uuid FOR UPDATE',
  planOfStepQuery: 'SELECT plan_id AS id FROM planned_move WHERE id = $1::uuid',
  plans: (tx) => tx.movePlan,
  steps: (tx) => tx.plannedMove,
  read: async (reader, id) => (await readMovePlans(reader, { id }))[0],
  stepsOf: ({ moves }) => moves,
  // Any open move may be left out; whether one may be done is asked of who stands in its place.
  nextSteps: ({ moves }) => moves.filter(isOpen),
  refusals: {
    ended: 'This plan has ended. Note the move on the lot itself, or plan again.',
    endedStep: 'This plan has ended. Note the move on the lot itself, or plan again.',
    settled: () => 'This move was already done or left out. Open the plan again.',
    notNext: 'An earlier move is still to be done or left out first.',
  },
  atLastStep: { endReason: 'Its last move is settled.' },
};

/** The plan as a journal line names it. */
export const movePlanSubject = (id: string) => ({ type: 'move_plan' as const, id });

import type { HeldAbove } from '../../stock/lots/resting.ts';

/** Lots of those given that a plan of moves still has to move, each with the plan. One query. */
export const plannedLots: HeldAbove = async (reader, lotIds) => {
  const { rows } = await reader.query<{ code: string; name: string; id: string }>(
    `SELECT lot.code, move_plan.name, move_plan.id
       FROM planned_move AS move JOIN move_plan ON move_plan.id = move.plan_id JOIN lot ON lot.id = move.lot_id
      WHERE move.lot_id = ANY($1::uuid[]) AND move.done_at IS NULL AND move.left_out_at IS NULL AND move_plan.ended_at IS NULL
      ORDER BY lot.code, move.position`,
    [[...lotIds]],
  );
  return rows.map(({ code, name, id }) => ({
    code,
    what: `is in the plan of moves “${name}”`,
    href: `/moves/${id}`,
  }));
};

import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { openInSql } from '../../platform/plans/plans.rules.ts';

const query = `
  SELECT DISTINCT unnest(promise.slot_ids)::text AS id FROM (
    SELECT step.slot_ids FROM acclimation_step AS step JOIN acclimation ON acclimation.id = step.acclimation_id
     WHERE acclimation.ended_at IS NULL AND ${openInSql('step')}
    UNION ALL
    SELECT move.slot_ids FROM planned_move AS move JOIN move_plan ON move_plan.id = move.plan_id
     WHERE move_plan.ended_at IS NULL AND ${openInSql('move')}) AS promise`;

/** The slots that running acclimations and plans of moves have promised to lots: free as they look, they are taken. One query. */
export async function promisedSlots(reader: SqlReader): Promise<ReadonlySet<string>> {
  const { rows } = await reader.query<{ id: string }>(query);
  return new Set(rows.map(({ id }) => id));
}

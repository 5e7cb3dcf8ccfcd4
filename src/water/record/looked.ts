import type pg from 'pg';
import { groupBySystem } from './group-by-system.ts';
import { before, historyDays, type Span } from './span.ts';
import type { LookedFact } from './types.ts';

// A level is read to a fiftieth of the container and no better than 20 mL, as where doses are posted; two of them are told where
// what went out is known to a sixth. The doses of a doser are those that name it; where it is the only one for its quantity, those
// that no person logged.
const query = `
  WITH look AS (
    SELECT equipment.id, equipment.system_id, equipment.strength_code, equipment.strength, equipment.reservoir_l, level.at AS to_at,
           lag(level.at) OVER by_doser AS from_at, lag(level.after_l) OVER by_doser - level.seen_l AS out_l,
           NOT EXISTS (SELECT 1 FROM equipment AS other WHERE other.system_id = equipment.system_id AND other.kind = 'doser'
              AND other.id <> equipment.id AND other.removed_at IS NULL AND other.strength_code = equipment.strength_code) AS alone
      FROM equipment JOIN container_level AS level ON level.equipment_id = equipment.id
     WHERE equipment.kind = 'doser' AND equipment.system_id = ANY($1) AND level.at <= $3
    WINDOW by_doser AS (PARTITION BY equipment.id ORDER BY level.at, level.id))
  SELECT look.system_id AS "systemId", look.id AS "doserId", told.code AS "quantityCode",
         date_part('epoch', look.from_at) / 86400 AS "fromDay", date_part('epoch', look.to_at) / 86400 AS "toDay",
         CASE WHEN told.named THEN 1000 * look.out_l / told.ml ELSE look.strength * look.out_l / system.volume_l / told.rise END AS factor
    FROM look JOIN system ON system.id = look.system_id
   CROSS JOIN LATERAL (
     SELECT dose.doser_id IS NOT NULL AS named, dose.quantity_code AS code, sum(dose.amount) AS ml, sum(dose.effect) AS rise
       FROM dose
      WHERE dose.system_id = look.system_id AND dose.voided_at IS NULL AND dose.effect > 0
        AND dose.at > look.from_at AND dose.at <= look.to_at
        AND (dose.doser_id = look.id OR look.alone AND look.strength > 0 AND dose.doser_id IS NULL AND dose.account_id IS NULL AND dose.done_by = ''
             AND dose.quantity_code = look.strength_code)
      GROUP BY 1, 2) AS told
   WHERE look.from_at > $2 AND look.out_l >= 0
     AND 6 * sqrt(2) * greatest(0.02, 0.02 * coalesce(look.reservoir_l, 0)) <= greatest(look.out_l,
         CASE WHEN told.named THEN told.ml / 1000 ELSE told.rise * system.volume_l / look.strength END)
   ORDER BY look.to_at`;

/** What went out of the containers of dosers between two looks, against what their doses were told, oldest first. One query. */
export async function loadLooked(
  pool: pg.Pool,
  systemIds: readonly string[],
  span: Span,
): Promise<Map<string, LookedFact[]>> {
  const values = [systemIds, before(span, historyDays('alkalinity')), span.now];
  const { rows } = await pool.query<LookedFact & { systemId: string }>(query, values);
  return groupBySystem(rows, (row) => row);
}

import type pg from 'pg';
import type { RackOverview } from './overview.rules.ts';

const query = `
  WITH standing AS (
    SELECT lot_place.rack_id, lot_place.lot_id, count(*)::int AS slots FROM lot_place GROUP BY rack_id, lot_id
  ), wrong AS (
    SELECT lot_id, min(severity) AS severity FROM lot_alert
     WHERE put_off_until IS NULL OR put_off_until <= $2 GROUP BY lot_id
  )
  SELECT rack.id, rack.name, rack.rows, rack.columns, rack.depth_mm AS "depthMm",
         rack.left_mm AS "leftMm", rack.back_mm AS "backMm", rack.slot_width_mm AS "slotWidthMm", rack.slot_depth_mm AS "slotDepthMm", tank.id AS "tankId", tank.name AS "tankName",
         system.id AS "systemId", system.name AS "systemName", lamp.id AS "lampId", lamp.name AS "lampName",
         coalesce(held.lots, 0) AS lots, coalesce(held.pieces, 0) AS pieces, coalesce(held.slots, 0) AS taken,
         coalesce(held.now, 0) AS now, coalesce(held.today, 0) AS today, coalesce(held.watch, 0) AS watch,
         light.measured_at AS "measuredAt", coalesce(light.moved, false) AS moved,
         coalesce(light.lamp_percent <> light.survey_percent AND NOT light.other_lamp, false) AS turned
    FROM system
    JOIN tank ON tank.system_id = system.id
    JOIN rack ON rack.tank_id = tank.id
    LEFT JOIN lamp ON lamp.id = rack.lamp_id
    LEFT JOIN rack_light_now AS light ON light.rack_id = rack.id
    LEFT JOIN (
      SELECT standing.rack_id, count(*)::int AS lots, sum(lot.pieces)::int AS pieces, sum(standing.slots)::int AS slots,
             (count(*) FILTER (WHERE wrong.severity = 'now'))::int AS now,
             (count(*) FILTER (WHERE wrong.severity = 'today'))::int AS today,
             (count(*) FILTER (WHERE wrong.severity = 'watch'))::int AS watch
        FROM standing JOIN lot ON lot.id = standing.lot_id LEFT JOIN wrong ON wrong.lot_id = standing.lot_id
       GROUP BY standing.rack_id) AS held ON held.rack_id = rack.id
   WHERE system.site_id = $1 AND system.retired_at IS NULL AND ($3::uuid IS NULL OR tank.id = $3)
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`;

/** A site's racks (or one tank's) with what stands on them and what is open about it; one query. */
export async function rackOverview(
  pool: pg.Pool,
  siteId: string,
  now: Date,
  tankId: string | null = null,
): Promise<RackOverview[]> {
  return (await pool.query<RackOverview>(query, [siteId, now, tankId])).rows;
}

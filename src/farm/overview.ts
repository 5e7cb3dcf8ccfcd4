import type pg from 'pg';
import type { RackOverview } from './overview.rules.ts';

const query = `
  WITH standing AS (
    SELECT lot_place.rack_id, lot_place.lot_id, count(*)::int AS slots FROM lot_place GROUP BY rack_id, lot_id
  ), wrong AS (
    SELECT subject_id AS lot_id, min(severity) AS severity FROM open_alert
     WHERE subject_type = 'lot' AND (put_off_until IS NULL OR put_off_until <= $2) GROUP BY subject_id
  )
  SELECT rack.id, rack.name, rack.rows, rack.columns, rack.depth_mm AS "depthMm", tank.id AS "tankId", tank.name AS "tankName",
         system.id AS "systemId", system.name AS "systemName", lamp.id AS "lampId", lamp.name AS "lampName",
         coalesce(held.lots, 0) AS lots, coalesce(held.pieces, 0) AS pieces, coalesce(held.slots, 0) AS taken,
         coalesce(held.now, 0) AS now, coalesce(held.today, 0) AS today, coalesce(held.watch, 0) AS watch,
         survey.measured_at AS "measuredAt",
         coalesce(setting.percent <> survey.lamp_percent, false) AS turned
    FROM system
    JOIN tank ON tank.system_id = system.id
    JOIN rack ON rack.tank_id = tank.id
    LEFT JOIN lamp ON lamp.id = rack.lamp_id
    LEFT JOIN LATERAL (SELECT measured_at, lamp_percent FROM light_survey WHERE rack_id = rack.id AND voided_at IS NULL
                        ORDER BY measured_at DESC, id DESC LIMIT 1) AS survey ON true
    LEFT JOIN LATERAL (SELECT percent FROM lamp_setting WHERE lamp_id = rack.lamp_id ORDER BY at DESC LIMIT 1) AS setting ON true
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

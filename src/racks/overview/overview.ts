import type pg from 'pg';
import type { RackOverview } from './overview.rules.ts';

/** Of a site's racks, or (`some`) of those in the tanks of $3: then only their lots are read. */
const queryOf = (some: boolean) => `
  WITH standing AS (
    SELECT slot.rack_id, placement.lot_id, count(*)::int AS slots
      FROM slot JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
      JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
     ${some ? 'WHERE slot.rack_id IN (SELECT id FROM rack WHERE tank_id = ANY($3::uuid[]))' : ''} GROUP BY slot.rack_id, placement.lot_id
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
   WHERE system.site_id = $1 AND system.retired_at IS NULL ${some ? 'AND tank.id = ANY($3::uuid[])' : ''}
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`;

const ofAll = queryOf(false);
const ofTanks = queryOf(true);

/** A site's racks, or those in some of its tanks, with what stands on them and what is open about it; one query. */
export async function rackOverview(
  pool: pg.Pool,
  siteId: string,
  now: Date,
  tankIds: readonly string[] | null = null,
): Promise<RackOverview[]> {
  const { rows } = await (tankIds === null
    ? pool.query<RackOverview>(ofAll, [siteId, now])
    : pool.query<RackOverview>(ofTanks, [siteId, now, tankIds]));
  return rows;
}

// From the lots with an alert to their racks: there are few of them, however many racks.
const wantedQuery = `
  WITH wrong AS MATERIALIZED (
    SELECT lot_id, min(severity) AS severity FROM lot_alert WHERE put_off_until IS NULL OR put_off_until <= $2
     GROUP BY lot_id HAVING min(severity) < 'watch'),
  standing AS (
    SELECT DISTINCT lot_place.rack_id, wrong.lot_id, wrong.severity FROM wrong JOIN lot_place ON lot_place.lot_id = wrong.lot_id)
  SELECT rack.name, (count(*) FILTER (WHERE standing.severity = 'now'))::int AS now, (count(*) FILTER (WHERE standing.severity = 'today'))::int AS today
    FROM standing JOIN rack ON rack.id = standing.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
   GROUP BY rack.id, tank.id, system.id
   ORDER BY system.position, system.name, tank.position, tank.name, rack.position, rack.name`;

/** The racks of a site with lots to look at now or today, and how many of each; one query. */
export async function racksWanted(
  pool: pg.Pool,
  siteId: string,
  now: Date,
): Promise<Pick<RackOverview, 'name' | 'now' | 'today'>[]> {
  return (await pool.query<Pick<RackOverview, 'name' | 'now' | 'today'>>(wantedQuery, [siteId, now])).rows;
}

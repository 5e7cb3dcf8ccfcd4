import type pg from 'pg';
import { worstFirst } from '../../alerts/order.ts';
import type { Severity } from '../../generated/prisma/enums.ts';

/** A tank in service with its place in a room; null where nobody placed it. */
export interface RoomTank {
  id: string;
  name: string;
  systemId: string;
  systemName: string;
  lengthMm: number;
  widthMm: number;
  roomId: string | null;
  roomName: string | null;
  leftCm: number | null;
  backCm: number | null;
  turned: boolean;
}

const tankQuery = `
  SELECT tank.id, tank.name, system.id AS "systemId", system.name AS "systemName", tank.length_mm AS "lengthMm", tank.width_mm AS "widthMm",
         room.id AS "roomId", room.name AS "roomName", place.left_cm AS "leftCm", place.back_cm AS "backCm", coalesce(place.turned, false) AS turned
    FROM tank
    JOIN system ON system.id = tank.system_id
    LEFT JOIN tank_place AS place ON place.tank_id = tank.id
    LEFT JOIN room ON room.id = place.room_id
   WHERE system.site_id = $1 AND system.retired_at IS NULL
   ORDER BY room.position NULLS LAST, room.name, system.position, system.name, tank.position, tank.name`;

/** A site's tanks in service, room by room; those in none last. One query. */
export async function roomTanks(pool: pg.Pool, siteId: string): Promise<RoomTank[]> {
  return (await pool.query<RoomTank>(tankQuery, [siteId])).rows;
}

/** An open alert that the plan marks at no rack: about water, equipment or a kit. */
export interface RoomAlert {
  id: string;
  systemId: string;
  severity: Severity;
  title: string;
}

const alertQuery = `
  SELECT alert.id, alert.system_id AS "systemId", alert.severity, alert.title
    FROM open_alert AS alert
    JOIN system ON system.id = alert.system_id
   WHERE system.site_id = $1 AND alert.cause_id IS NULL AND alert.severity <> 'watch'
     AND (alert.put_off_until IS NULL OR alert.put_off_until <= $2)
     AND alert.subject_type <> 'lot'
     AND NOT (alert.subject_type IN ('rack', 'lamp') AND EXISTS (
       SELECT FROM lot_alert AS told JOIN lot_place ON lot_place.lot_id = told.lot_id WHERE told.id = alert.id
       UNION ALL SELECT FROM open_alert AS other WHERE other.cause_id = alert.id AND other.subject_type = 'lot'))
   ORDER BY ${worstFirst('alert')}`;

/** A site's alerts for now and today that are about no lot on a rack, the most urgent first. One query. */
export async function roomAlerts(pool: pg.Pool, siteId: string, now: Date): Promise<RoomAlert[]> {
  return (await pool.query<RoomAlert>(alertQuery, [siteId, now])).rows;
}

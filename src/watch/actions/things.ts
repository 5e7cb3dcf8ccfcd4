import type pg from 'pg';
import type { Alert } from '../../alerts/alerts.ts';
import type { Role } from '../../generated/prisma/enums.ts';

/** Who looks, and when. */
export interface Looking {
  personId: string;
  role: Role;
  timeZone: string;
  now: Date;
}

/** What an alert is about, as far as links and forms need it; null or empty where there is none. */
export interface AlertThings {
  siteId: string;
  /** The lots, those most worth a look first. */
  lots: { id: string; code: string; ownCode: string }[];
  /** The racks of its lots or lamps, and the rack itself. */
  racks: { id: string; name: string }[];
  lampId: string | null;
  /** Of a kit: what it measures. */
  quantityCode: string | null;
}

const query = `
  WITH meant AS (
    SELECT unnest($3::uuid[]) AS lot_id
  ), place AS (
    SELECT lot_place.lot_id, lot_place.rack_id FROM lot_place JOIN meant ON meant.lot_id = lot_place.lot_id
  )
  SELECT (SELECT site_id FROM system WHERE id = $2) AS "siteId",
         coalesce((SELECT json_agg(json_build_object('id', lot.id, 'code', lot.code, 'ownCode', lot.own_code) ORDER BY array_position($3::uuid[], lot.id))
            FROM lot JOIN meant ON meant.lot_id = lot.id WHERE lot.pieces > 0), '[]') AS lots,
         coalesce((SELECT json_agg(json_build_object('id', rack.id, 'name', rack.name) ORDER BY rack.position, rack.name)
            FROM rack WHERE rack.id = $1 OR rack.lamp_id = $1 OR rack.id IN (SELECT rack_id FROM place)), '[]') AS racks,
         coalesce((SELECT id FROM lamp WHERE id = $1),
                  (SELECT lamp_id FROM rack WHERE (id = $1 OR id IN (SELECT rack_id FROM place)) AND lamp_id IS NOT NULL LIMIT 1)) AS "lampId",
         (SELECT method.quantity_code FROM kit JOIN method ON method.id = kit.method_id WHERE kit.id = $1) AS "quantityCode"`;

/** Most lots that are offered each by itself (own choice). */
const mostLots = 6;

/** Reads what an alert is about. One query. */
export async function thingsOf(pool: pg.Pool, alert: Alert): Promise<AlertThings> {
  const own = alert.subjectType === 'lot' ? [alert.subjectId] : [];
  const lots = [...new Set([...own, ...alert.finding.lots])].slice(0, mostLots);
  const { rows } = await pool.query<AlertThings>(query, [alert.subjectId, alert.systemId, lots]);
  const [row] = rows;
  if (row === undefined) throw new Error('the database gave no answer');
  return row;
}

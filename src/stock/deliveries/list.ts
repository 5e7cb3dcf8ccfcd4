import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** A delivery as the list shows it. */
export interface DeliveryInList {
  id: string;
  supplier: string;
  cameAt: Date;
  lots: number;
  counted: number;
  arrivedDead: number;
  claimHours: number | null;
  claimedAt: Date | null;
  claimResult: string;
  /** Null while it counts. */
  voidReason: string | null;
}

const listQuery = `
  SELECT delivery.id, supplier, came_at AS "cameAt", claim_hours AS "claimHours", claimed_at AS "claimedAt", claim_result AS "claimResult", void_reason AS "voidReason",
         count(line.id)::int AS lots, coalesce(sum(counted), 0)::int AS counted, coalesce(sum(arrived_dead), 0)::int AS "arrivedDead"
    FROM delivery LEFT JOIN delivery_line AS line ON line.delivery_id = delivery.id
   WHERE site_id = $1 GROUP BY delivery.id ORDER BY came_at DESC, delivery.id DESC LIMIT 200`;

/** The latest 200 deliveries of a site. One query. */
export async function deliveriesOf(reader: SqlReader, siteId: string): Promise<DeliveryInList[]> {
  return (await reader.query<DeliveryInList>(listQuery, [siteId])).rows;
}

const tankQuery = `
  SELECT tank.id AS value, tank.name || ', ' || system.name AS text FROM tank JOIN system ON system.id = tank.system_id
   WHERE system.site_id = $1 AND system.retired_at IS NULL AND tank.quarantine ORDER BY system.position, system.name, tank.position, tank.name`;

/** The tanks of a site that are set apart as quarantine, to choose from. One query. */
export async function quarantineTanks(
  reader: SqlReader,
  siteId: string,
): Promise<{ value: string; text: string }[]> {
  return (await reader.query<{ value: string; text: string }>(tankQuery, [siteId])).rows;
}

/** A pest that was seen on lots of a delivery. */
export interface DeliveredPest {
  watchId: string;
  pest: string;
  lots: number;
  firstAt: Date;
}

const pestQuery = `
  SELECT watch.id AS "watchId", watch.pest, count(DISTINCT seen.lot_id)::int AS lots, min(condition.at) AS "firstAt"
    FROM delivery_line AS line JOIN pest_sighting AS seen ON seen.lot_id = line.lot_id
    JOIN condition ON condition.id = seen.condition_id AND condition.voided_at IS NULL JOIN pest_watch AS watch ON watch.id = seen.watch_id
   WHERE line.delivery_id = $1::uuid GROUP BY watch.id ORDER BY min(condition.at), watch.id`;

/** The pests that were seen on the lots of a delivery since, whenever its record was made. One query. */
export async function pestsOf(reader: SqlReader, deliveryId: string): Promise<DeliveredPest[]> {
  return (await reader.query<DeliveredPest>(pestQuery, [deliveryId])).rows;
}

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
}

const listQuery = `
  SELECT delivery.id, supplier, came_at AS "cameAt", claim_hours AS "claimHours", claimed_at AS "claimedAt", claim_result AS "claimResult",
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

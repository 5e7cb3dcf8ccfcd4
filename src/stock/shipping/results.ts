import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { ArrivedBox } from './results.rules.ts';

const arrivedQuery = `
  SELECT box.carrier, box.hours, extract(month FROM box.arrived_at AT TIME ZONE site.time_zone)::int AS month, box.late,
         sum(line.pieces)::int AS pieces, sum(coalesce(line.dead_on_arrival, 0))::int AS dead
    FROM shipment AS box JOIN sales_order AS sold ON sold.id = box.order_id JOIN site ON site.id = sold.site_id
    JOIN order_line AS line ON line.order_id = sold.id
   WHERE sold.site_id = $1::uuid AND box.arrived_at IS NOT NULL
   GROUP BY box.id, site.time_zone ORDER BY box.arrived_at, box.id`;

/** Every box of a site whose arrival is known. One query. */
export async function arrivedBoxes(reader: SqlReader, siteId: string): Promise<ArrivedBox[]> {
  return (await reader.query<ArrivedBox & Record<string, unknown>>(arrivedQuery, [siteId])).rows;
}

/** Boxes that left and of which nobody said how they arrived. One query. */
export async function boxesUnheardOf(
  reader: SqlReader,
  siteId: string,
): Promise<{ id: string; number: number; buyer: string; carrier: string }[]> {
  const { rows } = await reader.query<{ id: string; number: number; buyer: string; carrier: string }>(
    `SELECT sold.id, sold.number, sold.buyer, box.carrier FROM shipment AS box JOIN sales_order AS sold ON sold.id = box.order_id
      WHERE sold.site_id = $1::uuid AND sold.stage IN ('gone', 'settled') AND box.arrived_at IS NULL ORDER BY sold.number DESC`,
    [siteId],
  );
  return rows;
}

import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { NewShipment } from './shipments.ts';

/** The box of an order as it is kept. */
export interface StoredShipment extends NewShipment {
  version: number;
  arrivedAt: Date | null;
  late: boolean | null;
  resultNote: string;
}

const columns = `
  box.wall, box.length_mm AS "lengthMm", box.width_mm AS "widthMm", box.bags, box.litres_a_bag AS "litresABag", box.method, box.pack,
  box.carrier, box.hours, box.start_deg_c AS "startDegC", box.coldest_deg_c AS "coldestDegC", box.warmest_deg_c AS "warmestDegC",
  box.claim_hours AS "claimHours", box.despite, box.version, box.arrived_at AS "arrivedAt", box.late, box.result_note AS "resultNote"`;

/** The box of an order; null where nothing is sent. One query. */
export async function storedShipment(reader: SqlReader, orderId: string): Promise<StoredShipment | null> {
  const { rows } = await reader.query<StoredShipment & Record<string, unknown>>(
    `SELECT ${columns} FROM shipment AS box WHERE box.order_id = $1::uuid`,
    [orderId],
  );
  return rows[0] ?? null;
}

/** The box that was packed last at a site: what is usual there. One query. */
export async function usualShipment(reader: SqlReader, siteId: string): Promise<StoredShipment | null> {
  const { rows } = await reader.query<StoredShipment & Record<string, unknown>>(
    `SELECT ${columns} FROM shipment AS box JOIN sales_order ON sales_order.id = box.order_id
      WHERE sales_order.site_id = $1::uuid ORDER BY sales_order.number DESC LIMIT 1`,
    [siteId],
  );
  return rows[0] ?? null;
}

/** A line of a permit as it is kept. */
export interface StoredPermitLine {
  id: string;
  species: string;
  pieces: number;
  document: string;
  sourceCode: string;
}

/** The permit lines of an order in their order. One query. */
export async function storedPermit(reader: SqlReader, orderId: string): Promise<StoredPermitLine[]> {
  const { rows } = await reader.query<StoredPermitLine & Record<string, unknown>>(
    `SELECT id, species, pieces, document, source_code AS "sourceCode"
       FROM permit_line WHERE order_id = $1::uuid ORDER BY position, id`,
    [orderId],
  );
  return rows;
}

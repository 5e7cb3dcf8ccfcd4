import type { OrderStage } from '../../generated/prisma/enums.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** An order for which pieces of a lot are held. */
export interface LotOrder {
  id: string;
  number: number;
  buyer: string;
  stage: OrderStage;
  /** Lots on it. */
  lots: number;
  pieces: number;
  /** "2026-12-01" */
  until: string;
}

/** The orders for which pieces of a lot are held, by the hold's id. One query. */
export async function ordersOfHolds(
  reader: SqlReader,
  lotId: string,
): Promise<ReadonlyMap<string, LotOrder>> {
  const { rows } = await reader.query<LotOrder & { holdId: string } & Record<string, unknown>>(
    `SELECT hold.id AS "holdId", sold.id, sold.number, sold.buyer, sold.stage, hold.pieces, hold.until::text AS until,
            (SELECT count(*)::int FROM order_line WHERE order_id = sold.id) AS lots
       FROM hold JOIN order_line AS line ON line.hold_id = hold.id JOIN sales_order AS sold ON sold.id = line.order_id
      WHERE hold.lot_id = $1::uuid AND hold.released_at IS NULL ORDER BY hold.created_at, hold.id`,
    [lotId],
  );
  return new Map(rows.map(({ holdId, ...order }) => [holdId, order]));
}

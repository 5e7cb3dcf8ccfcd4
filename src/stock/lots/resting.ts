import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** Something that was done with a lot since it came in. */
export interface RestsOnLot {
  lotId: string;
  code: string;
  /** What, as it follows the lot's code: "was looked at". */
  what: string;
  /** Others count on the lot as it is: a buyer, a cut, a plan. It has to be taken back there first. */
  holds: boolean;
  /** The page of what holds it; '' where the lot's own page tells it. */
  href: string;
}

const query = `
  SELECT lot.id AS "lotId", lot.code, rest.what, rest.holds, rest.href
    FROM lot CROSS JOIN LATERAL (
      SELECT 1 AS rank, 'was cut or split' AS what, true AS holds, '' AS href
       WHERE EXISTS (SELECT FROM lot AS child WHERE child.parent_id = lot.id AND child.id <> ALL($1::uuid[]))
          OR EXISTS (SELECT FROM cut WHERE from_lot_id = lot.id OR into_lot_id = lot.id)
      UNION ALL SELECT CASE WHEN stage = 'cancelled' THEN 17 ELSE 2 END,
             CASE WHEN stage = 'cancelled' THEN 'was on order ' ELSE 'is on order ' END || number, stage <> 'cancelled', '/stock/orders/' || sales_order.id
        FROM order_line JOIN sales_order ON sales_order.id = order_line.order_id WHERE order_line.lot_id = lot.id
      UNION ALL SELECT 3, 'was counted, sold or lost', true, ''
       WHERE EXISTS (SELECT FROM ledger_entry AS line WHERE line.lot_id = lot.id AND line.voided_at IS NULL
                        AND (line.at <> lot.arrived_at OR (line.reason <> 'received' AND line.cause IS DISTINCT FROM 'dead_on_arrival')))
      UNION ALL SELECT 4, 'is held for a buyer', true, '' WHERE EXISTS (SELECT FROM hold WHERE lot_id = lot.id AND released_at IS NULL)
      UNION ALL SELECT 5, 'is in an acclimation', true, '/stock/acclimations/' || acclimation_id
        FROM acclimation_lot WHERE lot_id = lot.id AND ended_at IS NULL
      UNION ALL SELECT 6, 'is in the stocktake “' || stocktake.name || '”', true, '/stock/stocktakes/' || stocktake.id
        FROM stocktake_line AS line JOIN stocktake ON stocktake.id = line.stocktake_id WHERE line.lot_id = lot.id AND closed_at IS NULL
      UNION ALL SELECT 8, 'was looked at', false, '' WHERE EXISTS (SELECT FROM condition WHERE lot_id = lot.id AND voided_at IS NULL)
      UNION ALL SELECT 9, 'was moved', false, ''
       WHERE EXISTS (SELECT FROM placement WHERE lot_id = lot.id AND (to_at IS NOT NULL OR reason <> 'Taken in'))
      UNION ALL SELECT 10, 'was treated', false, '' WHERE EXISTS (SELECT FROM pest_treatment_lot WHERE lot_id = lot.id)
      UNION ALL SELECT 11, 'was identified', false, '' WHERE EXISTS (SELECT FROM identification WHERE lot_id = lot.id)
      UNION ALL SELECT 12, 'has a photo', false, '' WHERE EXISTS (SELECT FROM photo WHERE lot_id = lot.id AND voided_at IS NULL)
      UNION ALL SELECT 13, 'has a file', false, '' WHERE EXISTS (SELECT FROM attached_file WHERE lot_id = lot.id AND voided_at IS NULL)
      UNION ALL SELECT 14, 'was measured', false, '' WHERE EXISTS (SELECT FROM size_measurement WHERE lot_id = lot.id AND voided_at IS NULL)
      UNION ALL SELECT 15, 'was held for a buyer', false, '' WHERE EXISTS (SELECT FROM hold WHERE lot_id = lot.id AND released_at IS NOT NULL)
      UNION ALL SELECT 16, 'was in an acclimation', false, ''
       WHERE EXISTS (SELECT FROM acclimation_lot WHERE lot_id = lot.id AND ended_at IS NOT NULL)
    ) AS rest
   WHERE lot.id = ANY($1::uuid[]) ORDER BY lot.code, rest.rank`;

/**
 * What was done with lots since they came in, by code, what holds them first; what they are to one another is left out.
 * One query.
 */
export async function restingOnLots(reader: SqlReader, lotIds: readonly string[]): Promise<RestsOnLot[]> {
  return (await reader.query<RestsOnLot>(query, [[...lotIds]])).rows;
}

/**
 * What areas above the stock hold of lots: their code, what holds them and where that is taken back. One query.
 */
export type HeldAbove = (
  reader: SqlReader,
  lotIds: readonly string[],
) => Promise<Pick<RestsOnLot, 'code' | 'what' | 'href'>[]>;

/** Lots that are named in a refusal; own choice. */
const named = 3;

/** "3HK7 was moved, 8PQ2 has a photo, and 4 more": one thing of each lot. */
export function restsInWords(rests: readonly Pick<RestsOnLot, 'code' | 'what'>[]): string {
  const first = [...new Map(rests.toReversed().map((rest) => [rest.code, rest])).values()].toReversed();
  const said = first.slice(0, named).map(({ code, what }) => `${code} ${what}`);
  return `${said.join(', ')}${first.length > named ? `, and ${first.length - named} more` : ''}`;
}

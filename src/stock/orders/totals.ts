import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** What was sold of one kind in one month, and what was given back of it. */
export interface MonthTotal {
  /** "2026-11", in the site's time zone. */
  month: string;
  kind: string;
  orders: number;
  pieces: number;
  /** Minor units of `currency`, without the pieces that have no price. */
  minor: number;
  /** Pieces without a price: they are in no amount. */
  unpriced: number;
  /** Pieces that came back or were written off, by the month in which that was said. */
  backPieces: number;
  backMinor: number;
  currency: string | null;
}

/**
 * Sales of a site by month and kind, and returns, as SQL; $1 is the site. Months are those of the site's time zone. A free
 * line has no kind: it stands under the name of "(free lines)".
 */
export const totalsSql = `
  WITH sold AS (
    SELECT to_char(sale.at AT TIME ZONE site.time_zone, 'YYYY-MM') AS month, kind.name AS kind, line.order_id, line.pieces, line.price_minor,
           0 AS back, line.pieces * line.price_minor::float8 AS minor, 0::float8 AS back_minor, sold.currency
      FROM order_line AS line JOIN sale ON sale.id = line.sale_id AND sale.voided_at IS NULL
      JOIN sales_order AS sold ON sold.id = line.order_id JOIN site ON site.id = sold.site_id
      JOIN lot ON lot.id = line.lot_id JOIN kind ON kind.id = lot.kind_id
     WHERE site.id = $1::uuid
    UNION ALL
    SELECT to_char(step.at AT TIME ZONE site.time_zone, 'YYYY-MM'), kind.name, NULL, 0, 0, line.back_pieces + line.written_off_pieces, 0,
           coalesce((line.back_pieces + line.written_off_pieces) * line.price_minor::float8, 0), sold.currency
      FROM order_line AS line JOIN sales_order AS sold ON sold.id = line.order_id JOIN site ON site.id = sold.site_id
      JOIN order_stage_change AS step ON step.order_id = sold.id AND step.stage = 'returned'
      JOIN lot ON lot.id = line.lot_id JOIN kind ON kind.id = lot.kind_id
     WHERE site.id = $1::uuid AND line.back_pieces + line.written_off_pieces > 0
    UNION ALL
    SELECT to_char(first.at AT TIME ZONE site.time_zone, 'YYYY-MM'), '(free lines)', sold.id, 0, 0, 0, sold.free_line_minor::float8, 0, sold.currency
      FROM sales_order AS sold JOIN site ON site.id = sold.site_id
      JOIN LATERAL (SELECT min(sale.at) AS at FROM order_line AS line JOIN sale ON sale.id = line.sale_id AND sale.voided_at IS NULL
                     WHERE line.order_id = sold.id) AS first ON first.at IS NOT NULL
     WHERE site.id = $1::uuid AND sold.free_line_minor IS NOT NULL)
  SELECT month, kind, count(DISTINCT order_id)::int AS orders, sum(pieces)::int AS pieces, coalesce(sum(minor), 0)::float8 AS minor,
         coalesce(sum(pieces) FILTER (WHERE price_minor IS NULL), 0)::int AS unpriced,
         sum(back)::int AS "backPieces", sum(back_minor)::float8 AS "backMinor", currency
    FROM sold GROUP BY month, kind, currency ORDER BY month DESC, kind, currency`;

/** Sales of a site by month and kind, the newest month first. One query. */
export async function monthTotals(reader: SqlReader, siteId: string): Promise<MonthTotal[]> {
  return (await reader.query<MonthTotal & Record<string, unknown>>(totalsSql, [siteId])).rows;
}

import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import type { CountedLot } from './drift.rules.ts';

// The count that stands says how far the records were off: what it is compared with is what they said of its time, before
// anything that this stocktake itself settled.
const query = `
  SELECT taken.id AS "stocktakeId", taken.closed_at AS "closedAt", tank.name || ' ' || rack.name AS rack, kind.name AS kind, counted.pieces,
         counted.pieces - coalesce(line.change, counted.pieces - counted.expected) - coalesce((
           SELECT sum((again.reopened ->> 'change')::int)::int FROM stocktake_count AS again WHERE again.line_id = line.id AND again.voided_at IS NULL), 0) AS expected
    FROM stocktake AS taken
    JOIN stocktake_line AS line ON line.stocktake_id = taken.id
    JOIN lot ON lot.id = line.lot_id JOIN kind ON kind.id = lot.kind_id JOIN rack ON rack.id = line.rack_id JOIN tank ON tank.id = rack.tank_id
    JOIN LATERAL (SELECT pieces, expected FROM stocktake_count WHERE stocktake_count.line_id = line.id AND voided_at IS NULL
                   ORDER BY at DESC, id DESC LIMIT 1) AS counted ON true
   WHERE taken.site_id = $1::uuid AND taken.closed_at IS NOT NULL AND taken.closed_at > $2
   ORDER BY taken.closed_at, taken.id, line.id`;

/** Days of closed stocktakes that drift is told of (own choice). */
export const DRIFT_DAYS = 730;

/** The lots of a site's closed stocktakes, by their standing counts, the oldest first. One query. */
export async function countedLots(reader: SqlReader, siteId: string, now: Date): Promise<CountedLot[]> {
  return (await reader.query<CountedLot>(query, [siteId, daysBefore(now, DRIFT_DAYS)])).rows;
}

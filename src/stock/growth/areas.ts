import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { daysBefore } from '../../science/numeric/time.ts';
import type { SeenArea } from './areas.rules.ts';

/** Areas are followed so many days back (own choice: growth of a season and the one before). */
const AREA_DAYS = 400;

// Since its pieces last changed, or it was cut: what is seen before is another thing.
const query = `
  WITH shown AS (SELECT DISTINCT lot_id FROM rack_photograph_lot WHERE area_mm2 IS NOT NULL AND ($2::uuid IS NULL OR lot_id = $2::uuid)),
  changed AS (
    SELECT shown.lot_id, max(change.at) AS at
      FROM shown CROSS JOIN LATERAL (
        SELECT at FROM ledger_entry WHERE lot_id = shown.lot_id AND voided_at IS NULL
        UNION ALL SELECT at FROM cut WHERE from_lot_id = shown.lot_id) AS change
     GROUP BY shown.lot_id)
  SELECT shown.lot_id AS "lotId", taken.taken_at AS at, shown.area_mm2 / lot.pieces AS "mm2", taken.camera_mm IS NOT NULL AS "cameraKnown"
    FROM rack_photograph_lot AS shown JOIN rack_photograph AS taken ON taken.id = shown.photograph_id
    JOIN lot ON lot.id = shown.lot_id JOIN changed ON changed.lot_id = lot.id
   WHERE lot.site_id = $1::uuid AND ($2::uuid IS NULL OR lot.id = $2::uuid) AND lot.pieces > 0 AND taken.voided_at IS NULL
     AND shown.area_mm2 IS NOT NULL AND shown.refused_at IS NULL AND taken.taken_at > changed.at AND taken.taken_at > $3
   ORDER BY taken.taken_at, taken.id`;

/** The area of a piece by photographs since the pieces last changed, of the lots of a site or of one of them. One query. */
export async function seenAreas(
  sql: SqlReader,
  of: { siteId: string; lotId: string | null },
  now: Date,
): Promise<Map<string, SeenArea[]>> {
  const asked = [of.siteId, of.lotId, daysBefore(now, AREA_DAYS)];
  const { rows } = await sql.query<SeenArea & { lotId: string }>(query, asked);
  return Map.groupBy(rows, ({ lotId }) => lotId);
}

import type pg from 'pg';
import { KeptByMarks } from '../../platform/database/kept-by-marks.ts';
import type { Mark } from '../../platform/database/marks.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import { memoize } from '../../platform/memoize.ts';

/** How many readings were made with each kit in one water, of one quantity. */
type Counts = ReadonlyMap<string, number>;

// A kit measures the one quantity of its method. Readings of a probe leave the table for packs and roll-ups, which say how
// many they hold: that changes no sum, and leaves no mark.
const watersQuery = `
  SELECT DISTINCT origin.system_id || ' ' || method.quantity_code AS water
    FROM reading_origin AS origin JOIN kit ON kit.id = origin.kit_id JOIN method ON method.id = kit.method_id`;

/** Exported for a test, which sees to it that each table leaves marks or changes no sum. $1: waters, as "system quantity". */
export const countsQuery = `
  WITH used AS (
    SELECT DISTINCT water, origin.system_id, kit.id AS kit_id
      FROM unnest($1::text[]) AS water
      JOIN reading_origin AS origin ON origin.system_id = split_part(water, ' ', 1)::uuid
      JOIN kit ON kit.id = origin.kit_id
      JOIN method ON method.id = kit.method_id AND method.quantity_code = split_part(water, ' ', 2))
  SELECT used.water, used.kit_id AS "kitId", (own.readings + coalesce(gone.readings, 0) + coalesce(packed.readings, 0))::int AS readings
    FROM used
   CROSS JOIN LATERAL (SELECT count(*) AS readings FROM reading WHERE kit_id = used.kit_id AND system_id = used.system_id) AS own
   CROSS JOIN LATERAL (SELECT sum(gone) AS readings FROM reading_rollup
                        WHERE kit_id = used.kit_id AND system_id = used.system_id AND grain = 'day' AND gone > 0) AS gone
   CROSS JOIN LATERAL (SELECT sum(readings) AS readings FROM reading_pack WHERE kit_id = used.kit_id AND system_id = used.system_id) AS packed`;

/** The readings of each kit in waters, counted anew. One query. */
export async function readUseCounts(
  reader: SqlReader,
  waters: readonly string[],
): Promise<Map<string, Counts>> {
  const { rows } = await reader.query<{ water: string; kitId: string; readings: number }>(countsQuery, [
    [...waters],
  ]);
  const byWater = Map.groupBy(rows, ({ water }) => water);
  return new Map(
    waters.map((water) => [
      water,
      new Map((byWater.get(water) ?? []).map(({ kitId, readings }) => [kitId, readings])),
    ]),
  );
}

function isStale(water: string, _: Counts, { part, systemId, code }: Mark): boolean {
  if (part === 'all' || part === 'kit') return true;
  if (part !== 'reading') return false;
  const [ofSystem, ofCode] = water.split(' ');
  return (systemId === null || systemId === ofSystem) && (code === null || code === ofCode);
}

/** Waters of which the counts are kept; own choice. One takes some 2 kB after years of kits. */
const mostKept = 5000;

const keptOf = memoize((pool: pg.Pool) => new KeptByMarks<Counts>(pool, { isStale, most: mostKept }));

/** How many readings were ever made with each kit; those never used are not among them. Two small queries while nobody tests. */
export async function useCounts(pool: pg.Pool): Promise<Map<string, number>> {
  const waters = (await pool.query<{ water: string }>(watersQuery)).rows.map(({ water }) => water);
  const counts = await keptOf(pool).of(waters, (missing) => readUseCounts(pool, missing));
  const sums = new Map<string, number>();
  for (const ofWater of counts.values())
    for (const [kit, readings] of ofWater) sums.set(kit, (sums.get(kit) ?? 0) + readings);
  return sums;
}

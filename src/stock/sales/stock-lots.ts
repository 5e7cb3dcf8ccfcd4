import type pg from 'pg';
import { KeptByMarks } from '../../platform/database/kept-by-marks.ts';
import type { Mark } from '../../platform/database/marks.ts';
import { memoize } from '../../platform/memoize.ts';
import type { StockLot } from './ready.rules.ts';

/** $1: what `placed` is asked for. */
const queryOf = (placed: string) => `
  WITH placed AS (${placed}),
  figures AS MATERIALIZED (
    SELECT kind.id AS kind_id, stated.figure, (array_agg(stated.high ORDER BY stated.kind_id = kind.id DESC))[1] AS high
      FROM kind JOIN care_figure AS stated ON stated.kind_id IN (kind.id, kind.parent_id)
     WHERE stated.figure IN ('sale_size_mm', 'heal_days', 'quarantine_days') GROUP BY kind.id, stated.figure),
  of_kind AS MATERIALIZED (SELECT kind_id, jsonb_object_agg(figure, high) AS care FROM figures GROUP BY kind_id),
  of_lot AS MATERIALIZED (
    SELECT lot_id, jsonb_object_agg(figure, high) AS care FROM care_figure
     WHERE lot_id IS NOT NULL AND figure IN ('sale_size_mm', 'heal_days', 'quarantine_days') GROUP BY lot_id),
  cared_kind AS MATERIALIZED (
    SELECT kind_id, (care ->> 'sale_size_mm')::float8 AS size, (care ->> 'heal_days')::float8 AS heal, (care ->> 'quarantine_days')::float8 AS apart FROM of_kind),
  cared AS MATERIALIZED (
    SELECT lot.id AS lot_id, (own.care ->> 'sale_size_mm')::float8 AS size, (own.care ->> 'heal_days')::float8 AS heal, (own.care ->> 'quarantine_days')::float8 AS apart
      FROM lot JOIN of_lot ON of_lot.lot_id = lot.id LEFT JOIN of_kind ON of_kind.kind_id = lot.kind_id
     CROSS JOIN LATERAL (SELECT coalesce(of_kind.care, '{}') || of_lot.care AS care) AS own)
  SELECT placed.of, lot.id, lot.code, kind.name AS kind, lot.pieces, lot.is_mother AS "isMother", lot.size_mm AS "sizeMm",
         extract(epoch FROM coalesce(cut.at, lot.arrived_at))::float8 * 1000 AS "bornMs",
         CASE WHEN cut.at IS NOT NULL THEN CASE WHEN cared.lot_id IS NULL THEN cared_kind.heal ELSE cared.heal END
              ELSE CASE WHEN cared.lot_id IS NULL THEN cared_kind.apart ELSE cared.apart END END AS "keptBackDays",
         CASE WHEN cared.lot_id IS NULL THEN cared_kind.size ELSE cared.size END AS "leastMm",
         extract(epoch FROM lot.quarantine_until)::float8 * 1000 AS "quarantineUntilMs", acclimating.lot_id IS NOT NULL AS acclimating,
         noted.state = 'well' AS "notedWell", extract(epoch FROM noted.at)::float8 * 1000 AS "notedMs",
         extract(epoch FROM placed.from_at)::float8 * 1000 AS "fromMs", placed.racks
    FROM placed JOIN lot ON lot.id = placed.lot_id AND lot.pieces > 0 AND lot.site_id = placed.site_id
    JOIN kind ON kind.id = lot.kind_id
    LEFT JOIN cut ON cut.into_lot_id = lot.id
    LEFT JOIN acclimation_lot AS acclimating ON acclimating.lot_id = lot.id AND acclimating.ended_at IS NULL
    LEFT JOIN cared ON cared.lot_id = lot.id
    LEFT JOIN cared_kind ON cared_kind.kind_id = lot.kind_id
    LEFT JOIN LATERAL (SELECT state, at FROM condition WHERE lot_id = lot.id AND voided_at IS NULL ORDER BY at DESC, id DESC LIMIT 1) AS noted ON true`;

/** Exported for a test, which sees to it that each table leaves marks. $1: systems. */
export const standingQuery = queryOf(`
    SELECT tank.system_id AS of, system.site_id, placement.lot_id, min(placement.from_at) AS from_at, string_agg(DISTINCT slot.rack_id::text, ' ') AS racks
      FROM system JOIN tank ON tank.system_id = system.id JOIN rack ON rack.tank_id = tank.id JOIN slot ON slot.rack_id = rack.id
      JOIN placement_slot AS taken ON taken.slot_id = slot.id AND taken.to_at IS NULL
      JOIN placement ON placement.id = taken.placement_id AND placement.to_at IS NULL
     WHERE tank.system_id = ANY($1::text[]::uuid[]) GROUP BY tank.system_id, system.site_id, placement.lot_id`);

/** The same for the lots of sites ($1) that stand nowhere. */
export const looseQuery = queryOf(`
    SELECT lot.site_id AS of, lot.site_id, lot.id AS lot_id, NULL::timestamptz AS from_at, '' AS racks FROM lot
     WHERE lot.site_id = ANY($1::text[]::uuid[]) AND lot.pieces > 0
       AND NOT EXISTS (SELECT FROM placement JOIN placement_slot AS taken ON taken.placement_id = placement.id AND taken.to_at IS NULL
                        WHERE placement.lot_id = lot.id AND placement.to_at IS NULL)`);

interface Row extends Omit<StockLot, 'noted' | 'rackIds'> {
  of: string;
  notedWell: boolean | null;
  notedMs: number | null;
  racks: string;
}

function lotOf({ of: _, notedWell, notedMs, racks, ...lot }: Row): StockLot {
  const noted = notedWell === null || notedMs === null ? null : { well: notedWell, atMs: notedMs };
  return { ...lot, noted, rackIds: racks === '' ? [] : racks.split(' ') };
}

type Lots = readonly StockLot[];

const readBy =
  (pool: pg.Pool, query: string) =>
  async (keys: readonly string[]): Promise<Map<string, Lots>> => {
    const { rows } = await pool.query<Row>(query, [keys]);
    const byKey = Map.groupBy(rows, (row) => row.of);
    return new Map(keys.map((key) => [key, (byKey.get(key) ?? []).map(lotOf)]));
  };

const standingStaleBy = new Set(['all', 'place', 'lot']);
const looseStaleBy = new Set(['all', 'lot', 'unplaced']);

/** Systems and sites of which lots are kept at most; own choice. A lot takes some 400 bytes, so 50,000 lots are some 20 MB. */
const mostKept = 250;

const keptOf = memoize((pool: pg.Pool) => ({
  standing: new KeptByMarks<Lots>(pool, {
    isStale: (systemId, _, mark: Mark) =>
      standingStaleBy.has(mark.part) && (mark.systemId === null || mark.systemId === systemId),
    most: mostKept,
  }),
  // Lots that stand nowhere are of no system: whatever is written of lots may concern them.
  loose: new KeptByMarks<Lots>(pool, {
    isStale: (_siteId, _lots, { part }: Mark) => looseStaleBy.has(part),
    most: mostKept,
  }),
}));

const systemsQuery = 'SELECT id FROM system WHERE site_id = $1';

/**
 * Every lot of a site that has pieces: lists, each of which is the same object for as long as it did not change. Three small
 * queries then; of what changed one or two more.
 */
export async function stockLots(pool: pg.Pool, siteId: string): Promise<readonly Lots[]> {
  const systems = (await pool.query<{ id: string }>(systemsQuery, [siteId])).rows.map(({ id }) => id);
  const kept = keptOf(pool);
  const [standing, loose] = await Promise.all([
    kept.standing.of(systems, readBy(pool, standingQuery)),
    kept.loose.of([siteId], readBy(pool, looseQuery)),
  ]);
  return [...loose.values(), ...standing.values()];
}

/** The same read anew, for a test. */
export async function readStockLots(
  pool: pg.Pool,
  systemIds: readonly string[],
  siteId: string,
): Promise<readonly Lots[]> {
  const [standing, loose] = await Promise.all([
    readBy(pool, standingQuery)(systemIds),
    readBy(pool, looseQuery)([siteId]),
  ]);
  return [...loose.values(), ...standing.values()];
}

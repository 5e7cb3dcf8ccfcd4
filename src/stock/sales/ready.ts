import type pg from 'pg';
import { LOOK_DAYS } from './readiness.rules.ts';

/** How many lots a site has, and of how many nothing speaks against selling the free pieces. */
export interface ReadySum {
  /** With pieces left. */
  inStock: number;
  lots: number;
  pieces: number;
}

/** A look within so many hours counts: whole days are counted down. */
const lately = (LOOK_DAYS + 1) * 24;

// The same as notReadyReasons (readiness.rules.ts) finds for a lot, for all lots of a site at once and without the words: pages
// count tens of thousands of lots and show a few. A test holds the two to each other.
// $1: site, $2: now. A pass of the rack on which a lot stands says how it was looked at last; the passes of racks where it stood
// before are looked up (lot_look) only where it was moved so lately that one of them can count, and looks only of lots that
// nothing else speaks against.
const judged = `
  here AS MATERIALIZED (
    SELECT rack.id AS rack_id, tank.quarantine, rack_passed.at AS passed_at,
           EXISTS (SELECT FROM pest_watch WHERE pest_watch.system_id = tank.system_id AND ended_at IS NULL
                      AND pest_watch.tank_id IS NOT DISTINCT FROM CASE WHEN tank.own_water <> '' THEN tank.id END) AS watched
      FROM rack JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id AND system.site_id = $1
      LEFT JOIN rack_passed ON rack_passed.rack_id = rack.id),
  placed AS (
    SELECT placement.lot_id, min(placement.from_at) AS from_at, bool_or(here.quarantine) AS quarantine, bool_or(here.watched) AS watched,
           max(here.passed_at) AS passed_at
      FROM placement JOIN placement_slot AS taken ON taken.placement_id = placement.id AND taken.to_at IS NULL
      JOIN slot ON slot.id = taken.slot_id JOIN here ON here.rack_id = slot.rack_id
     WHERE placement.to_at IS NULL GROUP BY placement.lot_id),
  promised AS (SELECT lot_id, sum(pieces)::int AS pieces FROM hold WHERE released_at IS NULL GROUP BY lot_id),
  warned AS (SELECT DISTINCT lot_id FROM lot_alert),
  figures AS MATERIALIZED (
    SELECT kind.id AS kind_id, stated.figure, (array_agg(stated.high ORDER BY stated.kind_id = kind.id DESC))[1] AS high
      FROM kind JOIN care_figure AS stated ON stated.kind_id IN (kind.id, kind.parent_id)
     WHERE stated.figure IN ('sale_size_mm', 'heal_days', 'quarantine_days') GROUP BY kind.id, stated.figure),
  of_kind AS MATERIALIZED (
    SELECT kind_id, jsonb_object_agg(figure, high) AS care FROM figures GROUP BY kind_id),
  of_lot AS MATERIALIZED (
    SELECT lot_id, jsonb_object_agg(figure, high) AS care FROM care_figure
     WHERE lot_id IS NOT NULL AND figure IN ('sale_size_mm', 'heal_days', 'quarantine_days') GROUP BY lot_id),
  cared AS MATERIALIZED (
    SELECT lot.id AS lot_id, (own.care ->> 'sale_size_mm')::float8 AS size, (own.care ->> 'heal_days')::float8 AS heal, (own.care ->> 'quarantine_days')::float8 AS apart
      FROM lot JOIN of_lot ON of_lot.lot_id = lot.id LEFT JOIN of_kind ON of_kind.kind_id = lot.kind_id
     CROSS JOIN LATERAL (SELECT coalesce(of_kind.care, '{}') || of_lot.care AS care) AS own),
  cared_kind AS MATERIALIZED (
    SELECT kind_id, (care ->> 'sale_size_mm')::float8 AS size, (care ->> 'heal_days')::float8 AS heal, (care ->> 'quarantine_days')::float8 AS apart FROM of_kind),
  stock AS (
    SELECT lot.id, lot.code, kind.name AS kind, lot.pieces - coalesce(promised.pieces, 0) AS free, lot.size_mm, placed.from_at,
           floor(extract(epoch FROM $2::timestamptz - coalesce(cut.at, lot.arrived_at)) / 86400) AS days,
           CASE WHEN cut.at IS NOT NULL THEN CASE WHEN cared.lot_id IS NULL THEN cared_kind.heal ELSE cared.heal END
                ELSE CASE WHEN cared.lot_id IS NULL THEN cared_kind.apart ELSE cared.apart END END AS kept_back,
           CASE WHEN cared.lot_id IS NULL THEN cared_kind.size ELSE cared.size END AS least,
           placed.passed_at >= placed.from_at AND placed.passed_at > $2::timestamptz - interval '${lately} hours' AS passed_lately,
           lot.is_mother OR coalesce(lot.quarantine_until > $2::timestamptz, false) OR coalesce(placed.quarantine OR placed.watched, false)
             OR warned.lot_id IS NOT NULL OR acclimating.lot_id IS NOT NULL AS held_back
      FROM lot JOIN kind ON kind.id = lot.kind_id
      LEFT JOIN cut ON cut.into_lot_id = lot.id
      LEFT JOIN placed ON placed.lot_id = lot.id
      LEFT JOIN promised ON promised.lot_id = lot.id
      LEFT JOIN warned ON warned.lot_id = lot.id
      LEFT JOIN acclimation_lot AS acclimating ON acclimating.lot_id = lot.id AND acclimating.ended_at IS NULL
      LEFT JOIN cared ON cared.lot_id = lot.id
      LEFT JOIN cared_kind ON cared_kind.kind_id = lot.kind_id
     WHERE lot.site_id = $1 AND lot.pieces > 0),
  offered AS (
    SELECT stock.*, NOT held_back AND free > 0 AND (least <> 0 AND coalesce(size_mm < least, true)) IS NOT TRUE AND (days < kept_back) IS NOT TRUE AS may_be
      FROM stock),
  judged AS MATERIALIZED (
    SELECT id, code, kind, free,
           CASE WHEN NOT may_be OR coalesce(noted.state <> 'well', false) THEN false
                WHEN noted.at > $2::timestamptz - interval '${lately} hours' OR passed_lately THEN true
                WHEN from_at < $2::timestamptz - interval '${lately} hours' THEN false
                ELSE coalesce((SELECT look.at > $2::timestamptz - interval '${lately} hours' FROM lot_look AS look WHERE look.lot_id = offered.id), false)
           END AS ready
      FROM offered
      LEFT JOIN LATERAL (SELECT state, at FROM condition WHERE may_be AND lot_id = offered.id AND voided_at IS NULL ORDER BY at DESC, id DESC LIMIT 1) AS noted ON true)`;

const pageQuery = `
  WITH ${judged}
  SELECT count(*)::int AS "inStock", (count(*) FILTER (WHERE ready))::int AS lots, coalesce(sum(free) FILTER (WHERE ready), 0)::int AS pieces,
         ARRAY(SELECT id FROM judged WHERE ready = $3::boolean ORDER BY kind, code LIMIT $4::int OFFSET $5::int) AS ids
    FROM judged`;

/**
 * How many of a site's lots are ready to sell, and one page of them or (`ready` false) of the others, by kind and code.
 * One query.
 */
export async function readyPage(
  pool: pg.Pool,
  siteId: string,
  { ready, page, perPage }: { ready: boolean; page: number; perPage: number },
  now: Date,
): Promise<{ sum: ReadySum; ids: string[] }> {
  const { rows } = await pool.query<ReadySum & { ids: string[] }>(pageQuery, [
    ...[siteId, now, ready],
    ...[perPage, (page - 1) * perPage],
  ]);
  const { ids, ...sum } = rows[0] ?? { inStock: 0, lots: 0, pieces: 0, ids: [] };
  return { sum, ids };
}

/** How many of a site's lots are ready to sell. One query. */
export async function readySum(pool: pg.Pool, siteId: string, now: Date): Promise<ReadySum> {
  return (await readyPage(pool, siteId, { ready: true, page: 1, perPage: 0 }, now)).sum;
}

const allQuery = `WITH ${judged} SELECT id, code FROM judged WHERE ready ORDER BY kind, code`;

/** Every lot of a site that is ready to sell, by kind and code. One query. */
export async function readyLots(
  pool: pg.Pool,
  siteId: string,
  now: Date,
): Promise<{ id: string; code: string }[]> {
  return (await pool.query<{ id: string; code: string }>(allQuery, [siteId, now])).rows;
}

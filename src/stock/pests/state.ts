import type { SqlReader } from '../../platform/database/sql-reader.ts';

/** A pest seen on a lot. */
export interface SeenOnLot {
  conditionId: string;
  lotId: string;
  code: string;
  at: Date;
  grade: number | null;
  counted: number | null;
  note: string;
  by: string;
  /** The delivery that its lot came with; null where it came otherwise. */
  deliveryId: string | null;
  supplier: string | null;
}

/** A look at the whole water. */
export interface WaterLook {
  id: string;
  at: Date;
  found: number;
  note: string;
  by: string;
}

/** A treatment, with the lots that were in it and the pieces of them that were lost within a week after. */
export interface Treated {
  id: string;
  at: Date;
  product: string;
  substance: string;
  doseALitre: number | null;
  doseUnit: string;
  litres: number | null;
  minutes: number;
  countedBefore: number | null;
  notFor: string;
  reason: string;
  againOn: string | null;
  note: string;
  by: string;
  lots: { code: string }[];
  lost: number;
}

/** A lot that came into the water since it is watched. */
export interface Arrived {
  lotId: string;
  code: string;
  at: Date;
}

/** A water under watch for one pest, with all that happened. */
export interface WatchState {
  id: string;
  systemId: string;
  systemName: string;
  siteId: string;
  timeZone: string;
  tankId: string | null;
  tankName: string;
  pest: string;
  openedAt: Date;
  openedWhy: string;
  endedAt: Date | null;
  endedWhy: string;
  version: number;
  sightings: SeenOnLot[];
  looks: WaterLook[];
  treatments: Treated[];
  arrivals: Arrived[];
}

/** Losses within so many days after a treatment are told with it (own choice). */
const LOSS_DAYS = 7;

/** What stood in a water: placements `p` with the water of their tank. */
const stays = `
  SELECT p.id, p.lot_id, p.from_at, p.to_at, tank.system_id, CASE WHEN tank.own_water <> '' THEN tank.id END AS tank_id
    FROM placement AS p
    JOIN LATERAL (SELECT slot_id FROM placement_slot WHERE placement_id = p.id LIMIT 1) AS first ON true
    JOIN slot ON slot.id = first.slot_id JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id`;

// Asked first: most waters have no pest, and planning the query below takes longer than this one.
const idsQuery = `
  SELECT id FROM pest_watch
   WHERE ($1::uuid[] IS NULL OR system_id = ANY($1::uuid[])) AND ($2::uuid IS NULL OR id = $2::uuid)
     AND opened_at <= $3::timestamptz AND ($2::uuid IS NOT NULL OR ended_at IS NULL OR ended_at > $4::timestamptz)`;

const query = `
  WITH asked AS (
    SELECT * FROM pest_watch WHERE id = ANY($1::uuid[])),
  came AS (
    SELECT asked.id AS watch_id, stay.lot_id, lot.code, min(stay.from_at) AS at
      FROM asked JOIN placement AS recent ON recent.from_at > asked.opened_at AND recent.from_at <= least($2::timestamptz, asked.ended_at)
      JOIN (${stays}) AS stay ON stay.id = recent.id AND stay.system_id = asked.system_id AND stay.tank_id IS NOT DISTINCT FROM asked.tank_id
      JOIN lot ON lot.id = stay.lot_id
     WHERE NOT EXISTS (
       SELECT FROM (${stays}) AS former
        WHERE former.lot_id = ANY (ARRAY[stay.lot_id, lot.parent_id]) AND former.id <> stay.id AND former.from_at <= stay.from_at
          AND (former.lot_id = stay.lot_id OR former.to_at IS NULL OR former.to_at >= stay.from_at)
          AND former.system_id = asked.system_id AND former.tank_id IS NOT DISTINCT FROM asked.tank_id)
     GROUP BY asked.id, stay.lot_id, lot.code)
  SELECT asked.id, asked.system_id AS "systemId", system.name AS "systemName", system.site_id AS "siteId", site.time_zone AS "timeZone",
         asked.tank_id AS "tankId", coalesce(tank.name, '') AS "tankName", asked.pest, asked.opened_at AS "openedAt",
         asked.opened_why AS "openedWhy", asked.ended_at AS "endedAt", asked.ended_why AS "endedWhy", asked.version,
         coalesce(seen.list, '[]') AS sightings, coalesce(look.list, '[]') AS looks, coalesce(bath.list, '[]') AS treatments,
         coalesce(arrival.list, '[]') AS arrivals
    FROM asked JOIN system ON system.id = asked.system_id JOIN site ON site.id = system.site_id LEFT JOIN tank ON tank.id = asked.tank_id
    LEFT JOIN LATERAL (
      SELECT json_agg(json_build_object('conditionId', condition.id, 'lotId', lot.id, 'code', lot.code, 'at', condition.at, 'grade', condition.grade,
               'counted', seen.counted, 'note', condition.note, 'by', coalesce(account.name, ''),
               'deliveryId', delivery.id, 'supplier', delivery.supplier) ORDER BY condition.at, condition.id) AS list
        FROM pest_sighting AS seen JOIN condition ON condition.id = seen.condition_id JOIN lot ON lot.id = seen.lot_id
        LEFT JOIN account ON account.id = condition.account_id
        LEFT JOIN delivery_line AS line ON line.lot_id = lot.id LEFT JOIN delivery ON delivery.id = line.delivery_id
       WHERE seen.watch_id = asked.id AND condition.voided_at IS NULL AND condition.at <= $2::timestamptz) AS seen ON true
    LEFT JOIN LATERAL (
      SELECT json_agg(json_build_object('id', pest_look.id, 'at', at, 'found', found, 'note', note, 'by', coalesce(account.name, '')) ORDER BY at, pest_look.id) AS list
        FROM pest_look LEFT JOIN account ON account.id = pest_look.account_id
       WHERE watch_id = asked.id AND voided_at IS NULL AND at <= $2::timestamptz) AS look ON true
    LEFT JOIN LATERAL (
      SELECT json_agg(json_build_object('id', bath.id, 'at', bath.at, 'product', bath.product, 'substance', bath.substance, 'doseALitre', bath.dose_a_litre,
               'doseUnit', bath.dose_unit, 'litres', bath.litres, 'minutes', bath.minutes, 'countedBefore', bath.counted_before, 'notFor', bath.not_for,
               'reason', bath.reason, 'againOn', bath.again_on, 'note', bath.note, 'by', coalesce(account.name, ''),
               'lots', coalesce(lots.list, '[]'), 'lost', coalesce(lots.lost, 0)) ORDER BY bath.at, bath.id) AS list
        FROM pest_treatment AS bath LEFT JOIN account ON account.id = bath.account_id
        LEFT JOIN LATERAL (
          SELECT json_agg(json_build_object('code', lot.code) ORDER BY lot.code) AS list,
                 sum((SELECT -sum(change) FROM ledger_entry WHERE lot_id = lot.id AND reason = 'lost' AND ledger_entry.voided_at IS NULL AND at >= bath.at
                         AND at < bath.at + interval '${LOSS_DAYS} days' AND at <= $2::timestamptz))::int AS lost
            FROM pest_treatment_lot AS treated JOIN lot ON lot.id = treated.lot_id WHERE treated.treatment_id = bath.id) AS lots ON true
       WHERE bath.watch_id = asked.id AND bath.voided_at IS NULL AND bath.at <= $2::timestamptz) AS bath ON true
    LEFT JOIN LATERAL (
      SELECT json_agg(json_build_object('lotId', lot_id, 'code', code, 'at', at) ORDER BY at, code) AS list
        FROM came WHERE came.watch_id = asked.id) AS arrival ON true
   ORDER BY asked.opened_at, asked.id`;

/** Times arrive as text where PostgreSQL puts them into JSON. */
const dated = <Row extends { at: Date | string }>(rows: readonly Row[]) =>
  rows.map((row) => ({ ...row, at: new Date(row.at) }));

async function states(
  reader: SqlReader,
  systemIds: readonly string[] | null,
  id: string | null,
  { now, since }: { now: Date; since: Date },
): Promise<WatchState[]> {
  const asked = systemIds === null ? null : [...systemIds];
  const there = (await reader.query<{ id: string }>(idsQuery, [asked, id, now, since])).rows;
  if (there.length === 0) return [];
  const { rows } = await reader.query<WatchState>(query, [there.map((one) => one.id), now]);
  return rows.map((row) => ({
    ...row,
    sightings: dated(row.sightings),
    looks: dated(row.looks),
    treatments: dated(row.treatments),
    arrivals: dated(row.arrivals),
  }));
}

/** The watches for pests in these systems that run now, or ended after `since`, oldest first. Two queries at most. */
export const watchesOf = (
  reader: SqlReader,
  systemIds: readonly string[],
  now: Date,
  since: Date = now,
): Promise<WatchState[]> => states(reader, systemIds, null, { now, since });

/** One watch, also where it has ended; null where there is none. Two queries at most. */
export const watchById = async (reader: SqlReader, id: string, now: Date): Promise<WatchState | null> =>
  (await states(reader, null, id, { now, since: now }))[0] ?? null;

/** A lot or pieces that left a water: moved, sold to somebody, or given away. */
export interface Left {
  code: string;
  at: Date;
  pieces: number;
  way: 'sold' | 'given' | 'moved';
  /** The buyer, or the system where it stands now; '' where neither is known. */
  to: string;
  systemId: string | null;
}

// Pieces that were cut or split off a lot here were here until they were placed themselves.
const leftQuery = `
  WITH stay AS (${stays}),
  stood AS (SELECT * FROM stay WHERE system_id = $1::uuid AND tank_id IS NOT DISTINCT FROM $2::uuid),
  here AS (
    SELECT lot_id, from_at, to_at FROM stood
    UNION ALL
    SELECT lot.id, made.at, first.at
      FROM stood JOIN lot ON lot.parent_id = stood.lot_id
     CROSS JOIN LATERAL (SELECT min(at) AS at FROM ledger_entry WHERE lot_id = lot.id) AS made
     CROSS JOIN LATERAL (SELECT min(from_at) AS at FROM placement WHERE lot_id = lot.id) AS first
     WHERE stood.from_at <= made.at AND (stood.to_at IS NULL OR stood.to_at >= made.at))
  SELECT lot.code, sale.at, sale.pieces, sale.buyer AS "to", 'sold' AS way, NULL::uuid AS "systemId"
    FROM sale JOIN lot ON lot.id = sale.lot_id
   WHERE sale.voided_at IS NULL AND sale.at >= $3::timestamptz AND EXISTS (
     SELECT FROM here WHERE here.lot_id = lot.id AND here.from_at <= sale.at AND (here.to_at IS NULL OR here.to_at >= sale.at))
  UNION ALL
  SELECT lot.code, entry.at, -entry.change, '', 'given', NULL
    FROM ledger_entry AS entry JOIN lot ON lot.id = entry.lot_id
   WHERE entry.reason = 'lost' AND entry.cause = 'given_away' AND entry.voided_at IS NULL AND entry.at >= $3::timestamptz AND EXISTS (
     SELECT FROM here WHERE here.lot_id = lot.id AND here.from_at <= entry.at AND (here.to_at IS NULL OR here.to_at >= entry.at))
  UNION ALL
  SELECT lot.code, gone.at, lot.pieces, coalesce(system.name, ''), 'moved', system.id
    FROM (SELECT lot_id, max(to_at) AS at FROM here WHERE to_at >= $3::timestamptz GROUP BY lot_id) AS gone
    JOIN lot ON lot.id = gone.lot_id AND lot.pieces > 0
    LEFT JOIN stay AS now_at ON now_at.lot_id = lot.id AND now_at.to_at IS NULL
    LEFT JOIN system ON system.id = now_at.system_id
   WHERE now_at.id IS NULL OR now_at.system_id <> $1::uuid OR now_at.tank_id IS DISTINCT FROM $2::uuid
   ORDER BY at DESC, code`;

/** What left a water since a moment. One query. */
export async function leftSince(
  reader: SqlReader,
  { systemId, tankId }: Pick<WatchState, 'systemId' | 'tankId'>,
  since: Date,
): Promise<Left[]> {
  return (await reader.query<Left>(leftQuery, [systemId, tankId, since])).rows;
}

/** A reason that was kept. */
export interface KeptReason {
  code: string;
  act: string;
  reason: string;
  at: Date;
  by: string;
}

/** What was done all the same while a water was watched, the newest first. One query. */
export async function keptReasons(reader: SqlReader, watchId: string): Promise<KeptReason[]> {
  const { rows } = await reader.query<KeptReason>(
    `SELECT lot.code, kept.act, kept.reason, kept.at, coalesce(account.name, '') AS by
       FROM kept_apart_reason AS kept JOIN lot ON lot.id = kept.lot_id LEFT JOIN account ON account.id = kept.account_id
      WHERE kept.watch_id = $1::uuid ORDER BY kept.at DESC, kept.id`,
    [watchId],
  );
  return rows;
}

/** The lots that live in a water now, by code. One query. */
export async function lotsInWater(
  reader: SqlReader,
  { systemId, tankId }: Pick<WatchState, 'systemId' | 'tankId'>,
): Promise<{ id: string; code: string; kind: string; pieces: number }[]> {
  const { rows } = await reader.query<{ id: string; code: string; kind: string; pieces: number }>(
    `SELECT DISTINCT lot.id, lot.code, kind.name AS kind, lot.pieces
       FROM lot_place JOIN tank ON tank.id = lot_place.tank_id JOIN lot ON lot.id = lot_place.lot_id JOIN kind ON kind.id = lot.kind_id
      WHERE tank.system_id = $1::uuid AND CASE WHEN tank.own_water <> '' THEN tank.id END IS NOT DISTINCT FROM $2::uuid AND lot.pieces > 0
      ORDER BY lot.code`,
    [systemId, tankId],
  );
  return rows;
}

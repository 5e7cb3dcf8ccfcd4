import type pg from 'pg';
import { notFound } from '../../platform/refusal.ts';

/** A lot that may be moved, and where it is now. */
export interface MovableLot {
  id: string;
  code: string;
  ownCode: string;
  kind: string;
  pieces: number;
  /** Its slots now; empty when it has none. */
  slots: { id: string; name: string; rackId: string; rackName: string; systemId: string }[];
}

const query = `
  SELECT lot.id, lot.code, lot.own_code AS "ownCode", lot.pieces, kind.name AS kind,
         coalesce((SELECT json_agg(json_build_object('id', slot_id, 'name', slot_name, 'rackId', rack_id, 'rackName', rack_name, 'systemId', system_id)
                                   ORDER BY lot_place.row, lot_place."column")
                     FROM lot_place WHERE lot_id = lot.id), '[]') AS slots
    FROM lot JOIN kind ON kind.id = lot.kind_id
   WHERE lot.site_id = $2 AND (lot.code = upper($1) OR replace(lot.code, '-', '') = upper(regexp_replace($1, '[^[:alnum:]]', '', 'g'))
          OR (lot.own_code <> '' AND own_code_key(lot.own_code) = own_code_key($1)))
   ORDER BY lot.pieces > 0 DESC LIMIT 1`;

/** A lot by its code or own code, as people type it: in any case, with or without its hyphen. @throws Refusal 404 */
export async function findMovableLot(pool: pg.Pool, siteId: string, code: string): Promise<MovableLot> {
  const { rows } = await pool.query<MovableLot>(query, [code.trim(), siteId]);
  const [lot] = rows;
  if (lot === undefined) throw notFound(`A lot with the code ${code.trim()}`);
  return lot;
}

/** A lot that stands beside a slot. */
export interface Neighbour {
  code: string;
  kind: string;
  slot: string;
  reachMm: number | null;
}

const neighbourQuery = `
  SELECT DISTINCT ON (lot.id) lot.id, lot.code, kind.name AS kind, lot_place.slot_name AS slot,
         (SELECT high FROM care_figure WHERE figure = 'reach_mm' AND (lot_id = lot.id OR kind_id IN (kind.id, kind.parent_id))
           ORDER BY lot_id IS NULL, kind_id <> kind.id LIMIT 1) AS "reachMm"
    FROM slot AS goal
    JOIN lot_place ON lot_place.rack_id = goal.rack_id
     AND abs(lot_place.row - goal.row) <= 1 AND abs(lot_place."column" - goal."column") <= 1 AND lot_place.slot_id <> goal.id
    JOIN lot ON lot.id = lot_place.lot_id
    JOIN kind ON kind.id = lot.kind_id
   WHERE goal.id = ANY($1::uuid[]) AND lot.id <> $2 AND lot.kind_id <> (SELECT kind_id FROM lot WHERE id = $2)
   ORDER BY lot.id, lot_place.slot_name`;

/** Lots of another kind in the eight slots around each of these; one query. */
export async function neighboursAt(
  pool: pg.Pool,
  slotIds: readonly string[],
  lotId: string,
): Promise<Neighbour[]> {
  return (await pool.query<Neighbour>(neighbourQuery, [slotIds, lotId])).rows;
}

import { type Cell, slotName } from '../../farm/racks/slots.rules.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound } from '../../platform/refusal.ts';
import { leaveSlots } from './placements.ts';
import { standingIn } from './standing.ts';

/** A lot that lost or sold pieces and has more slots than pieces: nobody has said yet which of them are empty. */
export interface LotToAsk {
  id: string;
  code: string;
  ownCode: string;
  kind: string;
  pieces: number;
  rackName: string;
  slots: { id: string; name: string; proposed: boolean }[];
  /** When pieces went last. */
  since: Date;
}

interface Row extends Omit<LotToAsk, 'slots'> {
  cells: (Cell & { id: string })[];
  /** Pieces when it came to these slots. */
  had: number;
}

// A lot that got more slots than pieces when it was placed covers them; what is asked is what went since then. Few lots have
// more slots than pieces, and only their ledgers are read.
const query = `
  WITH wide AS MATERIALIZED (
    SELECT lot.id AS lot_id, slot.rack_id
      FROM placement JOIN lot ON lot.id = placement.lot_id AND lot.pieces > 0 AND lot.site_id = $1
      JOIN placement_slot AS held ON held.placement_id = placement.id AND held.to_at IS NULL JOIN slot ON slot.id = held.slot_id
     WHERE placement.to_at IS NULL
       AND lot.id = ANY ($2::uuid[]) AND ($3::uuid IS NULL OR slot.rack_id = $3::uuid)
     GROUP BY lot.id, slot.rack_id HAVING count(*) > lot.pieces)
  SELECT lot.id, lot.code, lot.own_code AS "ownCode", kind.name AS kind, lot.pieces, rack.name AS "rackName",
         json_agg(json_build_object('id', slot.id, 'row', slot.row, 'column', slot."column") ORDER BY slot.row, slot."column") AS cells,
         lot.pieces - counted.change AS had, counted.since
    FROM wide JOIN lot ON lot.id = wide.lot_id
    JOIN placement ON placement.lot_id = lot.id AND placement.to_at IS NULL
    JOIN placement_slot AS held ON held.placement_id = placement.id JOIN slot ON slot.id = held.slot_id AND slot.rack_id = wide.rack_id
    JOIN rack ON rack.id = slot.rack_id JOIN kind ON kind.id = lot.kind_id
   CROSS JOIN LATERAL (
     SELECT coalesce(sum(change), 0)::int AS change, max(at) FILTER (WHERE change < 0) AS since FROM ledger_entry
      WHERE lot_id = lot.id AND voided_at IS NULL AND ledger_entry.created_at > placement.created_at) AS counted
   WHERE counted.since IS NOT NULL
   GROUP BY lot.id, kind.id, rack.id, counted.change, counted.since
   ORDER BY rack.position, rack.name, rack.id, min(slot.row * 100 + slot."column")`;

/** $2: a rack, whose system alone is asked for; null for all. */
const systemsQuery = `
  SELECT id FROM system WHERE site_id = $1::uuid
     AND ($2::uuid IS NULL OR id = (SELECT system_id FROM tank JOIN rack ON rack.tank_id = tank.id WHERE rack.id = $2::uuid))`;

/** The lots of a site that have more slots on a rack than pieces; on one rack alone where it is given. */
async function wideLots(reader: SqlReader, siteId: string, rackId: string | null): Promise<string[]> {
  const { rows } = await reader.query<{ id: string }>(systemsQuery, [siteId, rackId]);
  const standing = await standingIn(
    reader,
    rows.map(({ id }) => id),
  );
  const racks = [...standing.values()].flat();
  const lots = racks.flatMap((rack) => (rackId === null || rack.id === rackId ? rack.lots : []));
  return lots.flatMap(({ id, pieces, slots }) => (slots > pieces ? [id] : []));
}

/**
 * The lots of which is asked which slots are empty, each with a proposal: the last of them in reading order, one slot a
 * piece; none where it covered more slots than it had pieces. One query, and two small ones for those of a rack or a whole site,
 * which are all where nothing is asked.
 */
export async function lotsToAsk(
  reader: SqlReader,
  siteId: string,
  { lotIds = null, rackId = null }: { lotIds?: readonly string[] | null; rackId?: string | null } = {},
): Promise<LotToAsk[]> {
  const asked = lotIds ?? (await wideLots(reader, siteId, rackId));
  if (asked.length === 0) return [];
  const { rows } = await reader.query<Row>(query, [siteId, asked, rackId]);
  return rows.map(({ cells, had, ...lot }) => {
    const kept = had < cells.length ? cells.length : lot.pieces;
    const slots = cells.map((cell, i) => ({ id: cell.id, name: slotName(cell), proposed: i >= kept }));
    return { ...lot, slots };
  });
}

/**
 * Says which slots of some lots are empty; one of which none is named covers all of its slots.
 * @returns what is free now, in words: "E4"; "" where nothing is
 * @throws Refusal 404 where of one of them nothing is asked; 409 where one would have no slot left
 */
export async function sayEmptied(
  work: Work,
  siteId: string,
  { lotIds, slotIds }: { lotIds: readonly string[]; slotIds: readonly string[] },
): Promise<string> {
  const asked = await lotsToAsk(readerOf(work.tx), siteId, { lotIds });
  if (asked.length < new Set(lotIds).size) throw notFound('One of these questions');
  const free: string[] = [];
  for (const { id, since, rackName } of asked.toSorted((a, b) => (a.id < b.id ? -1 : 1))) {
    const left = await leaveSlots(work, { lotId: id, slotIds, since });
    if (left !== '') free.push(`${rackName}, ${left}`);
  }
  return free.join('; ');
}

interface Held extends Cell {
  id: string;
  rackId: string;
}

/**
 * Says by their names which slots a lot left when pieces of it went. What does not fit is left alone, so that no word of a
 * walk is lost for it, and is asked later: names that are not its slots on this rack, and all of its slots at once.
 * @returns what is free now: "A7, A8"; "" where nothing is
 */
export async function leaveNamedSlots(
  work: Work,
  { lotId, rackId, names, at }: { lotId: string; rackId: string | null; names: readonly string[]; at: Date },
): Promise<string> {
  if (names.length === 0) return '';
  const held = await work.tx.$queryRaw<Held[]>`
    SELECT slot.id, slot.rack_id AS "rackId", slot.row, slot."column"
      FROM placement JOIN placement_slot AS held ON held.placement_id = placement.id JOIN slot ON slot.id = held.slot_id
      JOIN lot ON lot.id = placement.lot_id AND lot.pieces > 0
     WHERE placement.lot_id = ${lotId}::uuid AND placement.to_at IS NULL`;
  const left = held.filter((slot) => slot.rackId === rackId && names.includes(slotName(slot)));
  if (left.length === 0 || left.length === held.length) return '';
  return leaveSlots(work, { lotId, slotIds: left.map(({ id }) => id), since: at });
}

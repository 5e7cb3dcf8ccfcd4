import { uuidv7 } from 'uuidv7';
import { type Cell, WITHIN_RACK } from '../../farm/racks/slots.rules.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Tx } from '../../platform/service.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { calledBy } from '../base/codes.ts';
import { lotSubject, piecesOfLots } from '../base/lot-lock.ts';
import { passMoves } from '../pests/gate.ts';
import { moveRefusals, type WantedSlot } from './several-moves.rules.ts';
import { placeWords } from './slots.ts';

/** A lot among several that are moved, and the slots it goes to; none takes it off its rack. */
export interface AskedMove {
  lotId: string;
  code: string;
  slotIds: readonly string[];
}

const placesQuery = `
  SELECT placement.lot_id AS "lotId", placement.from_at AS since, json_agg(placement_slot.slot_id) AS "slotIds"
    FROM placement JOIN placement_slot ON placement_slot.placement_id = placement.id
   WHERE placement.lot_id = ANY($1::uuid[]) AND placement.to_at IS NULL GROUP BY placement.id`;

const slotsQuery = `
  SELECT slot.id, slot.row, slot."column", rack.id AS "rackId", rack.name AS "rackName", system.id AS "systemId", system.name AS "systemName",
         system.retired_at IS NOT NULL AS retired, taken.*
    FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
    LEFT JOIN LATERAL (
      SELECT lot.id AS "lotId", lot.code, lot.own_code AS "ownCode", kind.name AS kind, placement.to_at IS NOT NULL AS gone
        FROM placement_slot JOIN placement ON placement.id = placement_slot.placement_id
        JOIN lot ON lot.id = placement.lot_id JOIN kind ON kind.id = lot.kind_id
       WHERE placement_slot.slot_id = slot.id AND (placement.to_at IS NULL OR placement.to_at > $2::timestamptz)
       ORDER BY placement.from_at DESC LIMIT 1) AS taken ON true
   WHERE slot.id = ANY($1::uuid[]) AND system.site_id = $3::uuid AND ${WITHIN_RACK}`;

interface SlotRow extends Cell {
  id: string;
  rackId: string;
  rackName: string;
  systemId: string;
  systemName: string;
  retired: boolean;
  lotId: string | null;
  code: string;
  ownCode: string;
  kind: string;
  gone: boolean;
}

interface PlaceRow {
  lotId: string;
  since: Date;
  slotIds: string[];
}

const wantedOf = (row: SlotRow): WantedSlot => ({
  id: row.id,
  place: placeWords(row.rackName, [row]),
  rackId: row.rackId,
  systemName: row.systemName,
  retired: row.retired,
  taken:
    row.lotId === null ? null : { lotId: row.lotId, called: calledBy(row), kind: row.kind, gone: row.gone },
});

async function factsOf(reader: SqlReader, siteId: string, moves: readonly AskedMove[], at: Date) {
  const ids = moves.map(({ lotId }) => lotId);
  const places = await reader.query<PlaceRow>(placesQuery, [ids]);
  const placeOf = new Map(places.rows.map((row) => [row.lotId, row]));
  const own = places.rows.flatMap((row) => row.slotIds);
  const asked = [...new Set([...moves.flatMap(({ slotIds }) => slotIds), ...own])];
  const { rows } = await reader.query<SlotRow>(slotsQuery, [asked, at, siteId]);
  const pieces = await piecesOfLots(reader, ids, at);
  return { placeOf, slots: new Map(rows.map((row) => [row.id, row])), pieces };
}

type MoveFacts = Awaited<ReturnType<typeof factsOf>>;

/** Why each of several moves cannot be made, in their order; "" where it can. Three queries, however many. */
export async function whyNotMoved(
  reader: SqlReader,
  siteId: string,
  moves: readonly AskedMove[],
  at: Date,
): Promise<string[]> {
  return refusalsOf(await factsOf(reader, siteId, moves, at), moves, at);
}

function refusalsOf({ placeOf, slots, pieces }: MoveFacts, moves: readonly AskedMove[], at: Date): string[] {
  const wanted = new Map([...slots].map(([id, row]) => [id, wantedOf(row)]));
  return moveRefusals(
    moves.map(({ lotId, slotIds }) => ({
      lotId,
      slotIds,
      ownSlotIds: placeOf.get(lotId)?.slotIds ?? [],
      since: placeOf.get(lotId)?.since ?? null,
      pieces: pieces.get(lotId) ?? 0,
    })),
    wanted,
    at,
  );
}

/**
 * The moment that a time typed to the minute means for all of these lots: the first within it at which all of them were
 * there and all slots free.
 */
export async function momentOfMoves(reader: SqlReader, moves: readonly AskedMove[], at: Date): Promise<Date> {
  if (at.getTime() % minuteMs !== 0) return at;
  const { rows } = await reader.query<{ first: Date | null }>(
    `SELECT greatest(
       (SELECT max(from_at) FROM placement WHERE lot_id = ANY($1::uuid[]) AND to_at IS NULL AND from_at > $3::timestamptz AND from_at < $4::timestamptz),
       (SELECT max(first) FROM (SELECT min(at) AS first FROM ledger_entry WHERE lot_id = ANY($1::uuid[]) AND voided_at IS NULL GROUP BY lot_id) AS came
         WHERE first > $3::timestamptz AND first < $4::timestamptz),
       (SELECT max(to_at) FROM placement_slot WHERE slot_id = ANY($2::uuid[]) AND to_at > $3::timestamptz AND to_at < $4::timestamptz)) AS first`,
    [
      moves.map(({ lotId }) => lotId),
      moves.flatMap(({ slotIds }) => slotIds),
      at,
      new Date(at.getTime() + minuteMs),
    ],
  );
  return rows[0]?.first ?? at;
}

/** Locks slots in the order of their ids, and keeps their systems in service until the change is done. */
async function lockPlaces(tx: Tx, slotIds: readonly string[]): Promise<void> {
  await tx.$queryRaw`SELECT id FROM slot WHERE id = ANY(${[...slotIds]}::uuid[]) ORDER BY id FOR NO KEY UPDATE`;
  await tx.$queryRaw`
    SELECT id FROM system WHERE id IN (SELECT tank.system_id FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id
      WHERE slot.id = ANY(${[...slotIds]}::uuid[])) ORDER BY id FOR KEY SHARE`;
}

/**
 * Moves several lots at one moment, in a fixed number of queries: all leave their places, then all take their new ones,
 * so that lots can change places. The lots are locked by the caller.
 * @throws Refusal 409 when one of them cannot be moved; ask {@link whyNotMoved} before
 */
export async function moveLots(
  work: Work,
  siteId: string,
  moves: readonly AskedMove[],
  { at: typed, reason, despite = '' }: { at: Date; reason: string; despite?: string },
): Promise<void> {
  if (moves.length === 0) return;
  const reader = readerOf(work.tx);
  const at = await momentOfMoves(reader, moves, typed);
  const slotIds = moves.flatMap((move) => move.slotIds);
  await lockPlaces(work.tx, slotIds);
  const facts = await factsOf(reader, siteId, moves, at);
  const refused = refusalsOf(facts, moves, at).findIndex((why) => why !== '');
  if (refused >= 0)
    throw new Refusal(`${moves[refused]?.code} cannot be moved so. Look at the list again.`, { status: 409 });
  await passMoves(work, moves, { at, despite });
  const { placeOf, slots } = facts;
  await endPlaces(
    work.tx,
    moves.map(({ lotId }) => lotId),
    at,
  );
  await startPlaces(work, moves, { at, reason });
  const words = (ids: readonly string[]) => {
    const rows = ids.flatMap((id) => slots.get(id) ?? []);
    return rows[0] === undefined ? '' : placeWords(rows[0].rackName, rows);
  };
  for (const { lotId, code, slotIds: to } of moves) {
    const from = placeOf.get(lotId)?.slotIds ?? [];
    const kind = to.length === 0 ? 'placement.ended' : 'placement.started';
    work.record(kind, lotSubject(lotId), { code, from: words(from), to: words(to), at, reason });
  }
  for (const systemId of new Set([...slots.values()].map((row) => row.systemId))) work.reevaluate(systemId);
}

/** Ends the open placements of lots; one that would have lasted no time is deleted. */
async function endPlaces(tx: Tx, lotIds: readonly string[], at: Date): Promise<void> {
  const ids = [...lotIds];
  await tx.$executeRaw`
    DELETE FROM placement_slot USING placement
     WHERE placement.id = placement_slot.placement_id AND placement.lot_id = ANY(${ids}::uuid[]) AND placement.to_at IS NULL AND placement.from_at >= ${at}`;
  await tx.$executeRaw`DELETE FROM placement WHERE lot_id = ANY(${ids}::uuid[]) AND to_at IS NULL AND from_at >= ${at}`;
  await tx.$executeRaw`UPDATE placement SET to_at = ${at} WHERE lot_id = ANY(${ids}::uuid[]) AND to_at IS NULL`;
}

async function startPlaces(
  work: Work,
  moves: readonly AskedMove[],
  { at, reason }: { at: Date; reason: string },
): Promise<void> {
  const started = moves
    .filter(({ slotIds }) => slotIds.length > 0)
    .map((move) => ({ ...move, id: uuidv7() }));
  await work.tx.placement.createMany({
    data: started.map(({ id, lotId }) => ({ id, lotId, fromAt: at, reason, accountId: work.accountId })),
  });
  await work.tx.placementSlot.createMany({
    data: started.flatMap(({ id, slotIds }) => slotIds.map((slotId) => ({ placementId: id, slotId }))),
  });
}

/** Takes lots without pieces off their racks, in a fixed number of queries; a lot that came after `at` leaves as it came. */
export async function clearPlaces(work: Work, lotIds: readonly string[], at: Date): Promise<void> {
  if (lotIds.length === 0) return;
  const ids = [...lotIds];
  const reason = 'No pieces left';
  const open = await work.tx.$queryRaw<
    (Cell & { lotId: string; code: string; rackName: string; systemId: string })[]
  >`
    SELECT place.lot_id AS "lotId", lot.code, place.rack_name AS "rackName", place."row", place."column", place.system_id AS "systemId"
      FROM lot_place AS place JOIN lot ON lot.id = place.lot_id WHERE place.lot_id = ANY(${ids}::uuid[])`;
  await endPlaces(work.tx, lotIds, at);
  for (const [lotId, slots] of Map.groupBy(open, (row) => row.lotId)) {
    const [first] = slots;
    if (first === undefined) continue;
    const from = placeWords(first.rackName, slots);
    work.record('placement.ended', lotSubject(lotId), { code: first.code, from, to: '', at, reason });
  }
  for (const systemId of new Set(open.map((row) => row.systemId))) work.reevaluate(systemId);
}

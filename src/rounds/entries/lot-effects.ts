import type { ConditionState, Round } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { noteCondition, noteConditions, voidCondition } from '../../stock/lots/conditions.ts';
import { countLot } from '../../stock/lots/ledger.ts';
import { leaveNamedSlots } from '../../stock/places/emptied-slots.ts';
import { countsIn } from '../../stock/stocktakes/stocktakes.schema.ts';
import { countRack } from '../../stock/stocktakes/stocktakes.ts';
import type { Entry } from './entries.schema.ts';
import type { Applied } from './entry-effects.ts';

type Of<K extends Entry['kind']> = Extract<Entry, { kind: K }>;

interface Rack {
  id: string;
  name: string;
}

/** @throws Refusal when the rack is not passed on this round */
export async function rackOf(work: Work, round: Round, rackId: string): Promise<Rack> {
  const racks = await work.tx.$queryRaw<Rack[]>`
    SELECT rack.id, rack.name FROM rack
      JOIN round_plan_tank AS walked ON walked.tank_id = rack.tank_id
     WHERE rack.id = ${rackId}::uuid AND walked.plan_id = ${round.planId}::uuid`;
  if (racks[0] === undefined) throw new Refusal('This rack is not on this round.', { status: 404 });
  return racks[0];
}

/**
 * A rack passed as well counts as a look at every lot on it that has no entry of its own. A lot that was not well
 * before keeps its earlier condition, unless the tap said that it is no worse: one tap for the whole rack never says
 * that it recovered. Of a lot whose own note was not taken it says nothing.
 */
export async function rackWell(work: Work, round: Round, entry: Of<'rack_well'>, at: Date): Promise<Applied> {
  const rack = await rackOf(work, round, entry.rackId);
  const [seen] = await work.tx.$queryRaw<{ well: number; apart: string[] }[]>`
    SELECT count(*) FILTER (WHERE coalesce(last.state, 'well') = 'well' AND NOT unsaid.is)::int AS well,
           coalesce(array_agg(lot.lot_id::text) FILTER (WHERE last.state <> 'well' OR unsaid.is), '{}') AS apart
      FROM (SELECT DISTINCT lot_id FROM lot_place WHERE rack_id = ${rack.id}::uuid) AS lot
      LEFT JOIN LATERAL (SELECT state FROM condition
                          WHERE lot_id = lot.lot_id AND voided_at IS NULL AND at <= ${at}
                          ORDER BY at DESC, id DESC LIMIT 1) AS last ON true
     CROSS JOIN LATERAL (SELECT lot.lot_id = ANY(${entry.unsaid}::uuid[]) OR EXISTS (
                           SELECT FROM note_refused WHERE lot_id = lot.lot_id AND round_id = ${round.id}::uuid) AS is) AS unsaid`;
  const asBefore = await noWorse(work, round, entry, at);
  work.record(
    'rack.looked_at',
    { type: 'rack', id: rack.id },
    {
      round: round.id,
      well: seen?.well ?? 0,
      ...(asBefore.length === 0 ? {} : { noWorse: asBefore.length }),
    },
  );
  const unsaid = entry.unsaid.length === 0 ? {} : { unsaid: entry.unsaid };
  return { rackId: rack.id, detail: { ...seen, asBefore, ...unsaid, rack: rack.name } };
}

interface Repeated {
  lotId: string;
  code: string;
  state: ConditionState;
  grade: number | null;
}

/**
 * A look "no worse" at each lot whose last look is still the one that the screen showed. A lot that has an entry of its
 * own on this round, left the rack or was looked at since is left alone: nobody meant that look.
 * @returns the keys of the new looks
 */
async function noWorse(work: Work, round: Round, entry: Of<'rack_well'>, at: Date): Promise<string[]> {
  if (entry.asBefore.length === 0) return [];
  const shown = await work.tx.$queryRaw<Repeated[]>`
    SELECT lot.id AS "lotId", lot.code, shown.state::text AS state, shown.grade
      FROM condition AS shown
      JOIN lot ON lot.id = shown.lot_id
     WHERE shown.id = ANY(${entry.asBefore}::uuid[]) AND shown.voided_at IS NULL AND shown.state NOT IN ('well', 'lost') AND shown.at <= ${at}
       AND EXISTS (SELECT 1 FROM lot_place WHERE lot_place.lot_id = lot.id AND lot_place.rack_id = ${entry.rackId}::uuid)
       AND NOT EXISTS (SELECT 1 FROM condition AS later WHERE later.lot_id = lot.id AND later.voided_at IS NULL
                          AND (later.at, later.id) > (shown.at, shown.id))
       AND NOT EXISTS (SELECT 1 FROM round_entry AS own WHERE own.round_id = ${round.id}::uuid AND own.lot_id = lot.id AND own.kind IN ('condition', 'refused'))
     ORDER BY lot.id FOR UPDATE OF lot`;
  if (shown.length === 0) return [];
  return noteConditions(
    work,
    shown.map((look) => ({ ...look, compared: 'as_before' as const, note: '', at })),
  );
}

/** What one tap for the rack said of a lot gives way to an entry of its own on the same round, whichever comes first. */
async function dropNoWorse(work: Work, round: Round, lotId: string): Promise<void> {
  const said = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT look.id FROM condition AS look
     WHERE look.lot_id = ${lotId}::uuid AND look.voided_at IS NULL AND look.compared = 'as_before'
       AND EXISTS (SELECT 1 FROM round_entry AS passed WHERE passed.round_id = ${round.id}::uuid
                      AND passed.kind = 'rack_well' AND passed.detail -> 'asBefore' ? look.id::text)`;
  for (const { id } of said) await voidCondition(work, id, 'The lot has a look of its own on this round.');
}

export async function condition(
  work: Work,
  round: Round,
  entry: Of<'condition'>,
  at: Date,
): Promise<Applied> {
  const { lotId, state, grade, compared, note, rackId, cause, pest, pestCount, emptied } = entry;
  const lot = await lotOf(work, lotId);
  const lostPieces = state === 'lost' ? piecesLost(lot, entry.pieces) : null;
  await dropNoWorse(work, round, lotId);
  const { id } = await noteCondition(work, {
    ...{ lotId, state, grade, compared, note, at, lostPieces, cause, pest, pestCount },
  });
  let change = -(lostPieces ?? 0);
  if (state !== 'lost' && entry.pieces !== null) {
    const { pieces } = await countLot(work, { lotId, reason: 'recount', pieces: entry.pieces, at, note });
    change = pieces - lot.pieces;
  }
  const left = change < 0 ? await leaveNamedSlots(work, { lotId, rackId, names: emptied, at }) : '';
  const detail = {
    conditionId: id,
    state,
    grade,
    compared,
    ...(state === 'pest' ? { pest, pestCount } : {}),
    note,
    pieces: entry.pieces,
    change,
    ...(left === '' ? {} : { emptied: left }),
    code: lot.code,
  };
  return { lotId, rackId, detail };
}

/** @throws Refusal when nobody said how many of several pieces are left */
function piecesLost(lot: { pieces: number }, left: number | null): number {
  if (left !== null && left >= lot.pieces) {
    throw new Refusal(`Enter how many are left: fewer than the ${lot.pieces} there were.`, {
      field: 'pieces',
    });
  }
  if (left !== null) return lot.pieces - left;
  if (lot.pieces > 1)
    throw new Refusal(`Enter how many of the ${lot.pieces} pieces are left; 0 if none.`, { field: 'pieces' });
  return lot.pieces;
}

async function lotOf(work: Work, id: string): Promise<{ code: string; pieces: number }> {
  const lot = await work.tx.lot.findUnique({ where: { id }, select: { code: true, pieces: true } });
  if (lot === null) throw notFound('This lot');
  return lot;
}

export async function count(work: Work, entry: Of<'count'>, at: Date): Promise<Applied> {
  const { lotId, pieces, note, rackId, emptied } = entry;
  const lot = await lotOf(work, lotId);
  const { pieces: now } = await countLot(work, { lotId, reason: 'recount', pieces, at, note });
  const change = now - lot.pieces;
  const left = change < 0 ? await leaveNamedSlots(work, { lotId, rackId, names: emptied, at }) : '';
  const said = left === '' ? {} : { emptied: left };
  return { lotId, rackId, detail: { pieces, before: lot.pieces, change, note, ...said, code: lot.code } };
}

/** What a stocktake counted on a rack of the round. */
export async function shelfCount(
  work: Work,
  round: Round,
  entry: Of<'shelf_count'>,
  at: Date,
): Promise<Applied> {
  const { stocktakeId, rackId } = entry;
  await rackOf(work, round, rackId);
  const { countIds, rack } = await countRack(work, { stocktakeId, rackId, at }, countsIn(entry));
  return { rackId, detail: { countIds, rack, counted: countIds.length } };
}

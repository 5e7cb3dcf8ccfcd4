import { type Cell, WITHIN_RACK } from '../../farm/racks/slots.rules.ts';
import type { SqlReader } from '../../platform/database/sql-reader.ts';
import type { Page } from '../../platform/door/pages.ts';
import { isOpen, type StepwisePlan, type StepwisePlanStep } from '../../platform/plans/plans.rules.ts';
import { placeWords } from '../../stock/places/slots.ts';

/** One move of a plan as it stands. */
export interface MoveState extends StepwisePlanStep {
  lotId: string;
  code: string;
  kind: string;
  slotIds: string[];
  /** "Rack S2, A3"; "" where the lot is lifted out. */
  place: string;
  /** Where the lot stands now; "" nowhere. */
  stands: string;
  /** The system it goes to; where it is lifted out, the one it stands in. */
  systemId: string;
  systemName: string;
  why: string;
  by: string | null;
  note: string;
  /** Its rack was made smaller since: a slot it goes to is not there any more. */
  lost: boolean;
  /** Who stands in one of its slots now: another lot, with the position of that lot's own open move in the plan. */
  taker: { code: string; place: string; position: number | null } | null;
}

/** A plan of moves with its moves, as it stands. */
export interface MovePlanState extends StepwisePlan {
  name: string;
  by: string | null;
  endReason: string | null;
  timeZone: string;
  moves: MoveState[];
}

interface Row extends Omit<MovePlanState, 'moves'> {
  moves: (Omit<MoveState, 'place' | 'stands' | 'taker' | 'lost' | 'doneAt' | 'leftOutAt'> & {
    doneAt: string | null;
    leftOutAt: string | null;
    rack: string | null;
    cells: Cell[] | null;
    lost: boolean | null;
    here: { rack: string; cells: Cell[] } | null;
    taker: { lotId: string; code: string; rack: string; cells: Cell[] } | null;
  })[];
}

// Asked first: mostly there is none, and planning the query below takes longer than this one.
const idsQuery = `
  SELECT id FROM move_plan AS plan
   WHERE ($1::uuid IS NULL OR plan.site_id = $1) AND ($2::uuid IS NULL OR plan.id = $2)
     AND ($3::timestamptz IS NULL OR plan.ended_at IS NULL OR plan.ended_at > $3)
     AND ($4::timestamptz IS NULL OR (plan.created_at, plan.id) < ($4::timestamptz, $5::uuid))
   ORDER BY plan.created_at DESC, plan.id DESC LIMIT $6::int`;

const query = `
  SELECT plan.id, plan.name, plan.created_at AS "createdAt", maker.name AS by, plan.ended_at AS "endedAt",
         plan.end_reason AS "endReason", plan.version, site.time_zone AS "timeZone",
         (SELECT coalesce(json_agg(json_build_object(
             'id', move.id, 'position', move.position, 'lotId', lot.id, 'code', lot.code, 'kind', kind.name,
             'slotIds', move.slot_ids, 'rack', goal.rack, 'cells', goal.cells, 'lost', goal.lost, 'here', here.here,
             'systemId', coalesce(goal.system_id, here.system_id), 'systemName', coalesce(goal.system_name, here.system_name, ''),
             'why', move.why, 'doneAt', move.done_at, 'by', doer.name, 'leftOutAt', move.left_out_at, 'note', move.note,
             'taker', taker.taker) ORDER BY move.position), '[]')
            FROM planned_move AS move
            JOIN lot ON lot.id = move.lot_id
            JOIN kind ON kind.id = lot.kind_id
            LEFT JOIN account AS doer ON doer.id = move.done_by_id
            LEFT JOIN LATERAL (
              SELECT min(rack.name) AS rack, min(system.id::text) AS system_id, min(system.name) AS system_name,
                     json_agg(json_build_object('row', slot.row, 'column', slot."column") ORDER BY slot.row, slot."column") AS cells,
                     bool_or(NOT (${WITHIN_RACK})) AS lost
                FROM slot JOIN rack ON rack.id = slot.rack_id JOIN tank ON tank.id = rack.tank_id JOIN system ON system.id = tank.system_id
               WHERE slot.id = ANY(move.slot_ids)) AS goal ON true
            LEFT JOIN LATERAL (
              SELECT json_build_object('rack', min(rack_name), 'cells', json_agg(json_build_object('row', row, 'column', "column") ORDER BY row, "column")) AS here,
                     min(system_id::text) AS system_id, min(system_name) AS system_name
                FROM lot_place WHERE lot_id = lot.id HAVING count(*) > 0) AS here ON true
            LEFT JOIN LATERAL (
              SELECT json_build_object('lotId', other.id, 'code', other.code, 'rack', place.rack_name,
                                       'cells', json_build_array(json_build_object('row', place.row, 'column', place."column"))) AS taker
                FROM lot_place AS place JOIN lot AS other ON other.id = place.lot_id
               WHERE place.slot_id = ANY(move.slot_ids) AND place.lot_id <> lot.id LIMIT 1) AS taker ON move.done_at IS NULL
           WHERE move.plan_id = plan.id) AS moves
    FROM move_plan AS plan
    JOIN site ON site.id = plan.site_id
    LEFT JOIN account AS maker ON maker.id = plan.account_id
   WHERE plan.id = ANY($1::uuid[])
   ORDER BY plan.created_at DESC, plan.id DESC`;

/** Where a plan stands among all: when it was made, its id. */
export type MovePlanPlace = readonly [createdAt: string, id: string];

export const placeOfMovePlan = ({ createdAt, id }: MovePlanState): MovePlanPlace => [
  createdAt.toISOString(),
  id,
];

/**
 * Plans of moves, the latest first, all where no page is asked for, with who stands in the way of each move. Two queries at most.
 * @param filter of a site, or one by its id; `endedSince`: those that run, and those that ended after that
 */
export async function readMovePlans(
  reader: SqlReader,
  filter: { siteId?: string; id?: string; endedSince?: Date; page?: Page<MovePlanPlace> },
): Promise<MovePlanState[]> {
  const { siteId = null, id = null, endedSince = null, page } = filter;
  const values = [siteId, id, endedSince, ...(page?.after ?? [null, null]), page?.limit ?? null];
  const there = (await reader.query<{ id: string }>(idsQuery, values)).rows;
  if (there.length === 0) return [];
  const { rows } = await reader.query<Row>(query, [there.map(({ id }) => id)]);
  return rows.map((row) => ({ ...row, moves: movesOf(row) }));
}

function movesOf({ moves }: Row): MoveState[] {
  const open = new Map(moves.filter(isOpen).map(({ lotId, position }) => [lotId, position]));
  return moves.map(({ rack, cells, lost, here, taker, doneAt, leftOutAt, ...move }) => ({
    ...move,
    doneAt: doneAt === null ? null : new Date(doneAt),
    leftOutAt: leftOutAt === null ? null : new Date(leftOutAt),
    place: rack === null ? '' : placeWords(rack, cells ?? []),
    lost: lost ?? false,
    stands: here === null ? '' : placeWords(here.rack, here.cells),
    taker: taker && {
      code: taker.code,
      place: placeWords(taker.rack, taker.cells),
      position: open.get(taker.lotId) ?? null,
    },
  }));
}

/** Why a move has to wait, or cannot be done any more, in words; null when its turn has come. */
export function waitsFor(plan: MovePlanState, move: MoveState): string | null {
  const earlier = plan.moves.find(
    (other) => isOpen(other) && other.lotId === move.lotId && other.position < move.position,
  );
  if (earlier !== undefined) return `Move ${earlier.position} of the same lot comes first.`;
  const { taker, lost } = move;
  if (lost) return `${move.place} is not on its rack any more. Leave this move out and plan again.`;
  if (taker === null) return null;
  return taker.position === null
    ? `${taker.code} is in ${taker.place} and not in this plan. Move it, or leave this move out and plan again.`
    : `${taker.code} is still in ${taker.place}: move ${taker.position} comes first.`;
}

/** "Move GR-4F7 to Rack S2, A3", "Lift GR-4F7 out". */
export function moveTitle({ code, place }: Pick<MoveState, 'code' | 'place'>): string {
  return place === '' ? `Lift ${code} out` : `Move ${code} to ${place}`;
}

/** What is looked at before a hand reaches in. */
export const MOVE_CAUTIONS = [
  'Look at it first: if it is pale, torn or full of slime, note that and leave it where it is.',
  'Wear gloves and eye protection: some of these animals carry strong poisons.',
];

/** What a lot that is lifted out needs meanwhile. */
export const LIFT_CAUTION =
  'Keep it under water of its own system, shaded and as warm, for minutes only: its place is free after the next moves.';

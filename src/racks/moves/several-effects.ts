import type pg from 'pg';
import { mmWords } from '../../platform/units/measures.ts';
import { calledBy } from '../../stock/base/codes.ts';
import { type LotPlaceCare, placeCareOf } from '../../stock/light/place-care.ts';
import { type SlotOccupancy, slotOccupancy } from '../../stock/places/occupancy.ts';
import type { AskedMove } from '../../stock/places/several-moves.ts';
import { cellsOfRacks, placeWords } from '../../stock/places/slots.ts';
import { overSlots } from './effects.ts';

/** A move with the kind of its lot, by name. */
export interface MoveOfKind extends AskedMove {
  kind: string;
}

/** What a move among several means for its lot. */
export interface SeveralEffect {
  /** "Rack S2, A3" */
  place: string;
  cautions: string[];
}

/**
 * Where lots go and what speaks against it: light, flow and base of the slots, and lots of another kind that reach them
 * there. By the arrangement after all moves. A fixed number of queries.
 */
export async function severalEffects(
  pool: pg.Pool,
  moves: readonly MoveOfKind[],
  now: Date,
): Promise<ReadonlyMap<string, SeveralEffect>> {
  const placed = moves.filter(({ slotIds }) => slotIds.length > 0);
  const cells = await cellsOfRacks(
    pool,
    placed.flatMap(({ slotIds }) => slotIds),
  );
  const racks = [...new Set(cells.map(({ rackId }) => rackId))];
  const rackNames = new Map(cells.map(({ rackId, rackName }) => [rackId, rackName]));
  const slots = await slotOccupancy(pool, racks, now);
  const stays = slots.flatMap(({ lot }) => (lot === null ? [] : [lot.id]));
  const care = await placeCareOf(pool, [...new Set([...stays, ...placed.map(({ lotId }) => lotId)])], now);
  const after = standsAfter(slots, placed);
  return new Map(
    placed.map((move) => {
      const target = slots.filter(({ id }) => move.slotIds.includes(id));
      const place = placeWords(rackNames.get(target[0]?.rackId ?? '') ?? '', target);
      const needs = care.get(move.lotId);
      const risks = needs === undefined ? [] : overSlots(target, null, needs).risks;
      const light = target.some((slot) => slot.light === null) ? ['The light there was never measured.'] : [];
      return [
        move.lotId,
        { place, cautions: [...risks, ...light, ...reached(move, target, after, slots, care)] },
      ];
    }),
  );
}

/** A lot that stands somewhere once all moves are made. */
interface Standing {
  lotId: string;
  code: string;
  kind: string;
}

function standsAfter(slots: readonly SlotOccupancy[], moves: readonly MoveOfKind[]): Map<string, Standing> {
  const going = new Set(moves.map(({ lotId }) => lotId));
  const after = new Map<string, Standing>();
  for (const { id, lot } of slots)
    if (lot !== null && !going.has(lot.id))
      after.set(id, { lotId: lot.id, code: calledBy(lot), kind: lot.kind });
  for (const { slotIds, lotId, code, kind } of moves)
    for (const id of slotIds) after.set(id, { lotId, code, kind });
  return after;
}

const isBeside = (a: SlotOccupancy, b: SlotOccupancy) =>
  a.rackId === b.rackId && Math.abs(a.row - b.row) <= 1 && Math.abs(a.column - b.column) <= 1;

/** Lots of another kind in the eight slots around that are known to reach it, or that it is known to reach, in words. */
function reached(
  move: MoveOfKind,
  target: readonly SlotOccupancy[],
  after: ReadonlyMap<string, Standing>,
  slots: readonly SlotOccupancy[],
  care: ReadonlyMap<string, LotPlaceCare>,
): string[] {
  const reachOf = (lotId: string) => care.get(lotId)?.reachMm ?? 0;
  const around = slots
    .filter((slot) => target.some((one) => isBeside(one, slot)))
    .flatMap(({ id }) => after.get(id) ?? [])
    .filter(({ lotId, kind }) => lotId !== move.lotId && kind !== move.kind);
  const beside = [...new Map(around.map((other) => [other.lotId, other])).values()];
  const named = ({ code, kind }: Standing) => `${code} (${kind})`;
  const own = reachOf(move.lotId);
  const reaching = beside.filter(({ lotId }) => reachOf(lotId) > 0);
  return [
    ...reaching.map((other) => `Beside ${named(other)}, which reaches ${mmWords(reachOf(other.lotId))}.`),
    ...(own > 0 && beside.length > 0
      ? [`It reaches ${mmWords(own)} itself; beside it: ${beside.map(named).join(', ')}.`]
      : []),
  ];
}

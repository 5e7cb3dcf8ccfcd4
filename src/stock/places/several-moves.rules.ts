/** One of several lots that are moved at once. */
export interface LotMove {
  lotId: string;
  /** The slots it goes to, all on one rack; empty takes it off its rack. */
  slotIds: readonly string[];
  /** The slots it takes now. */
  ownSlotIds: readonly string[];
  /** Since when it stands there; null where it stands nowhere. */
  since: Date | null;
  /** Pieces at the time of the move. */
  pieces: number;
}

/** A slot that somebody wants, as it is known. */
export interface WantedSlot {
  id: string;
  /** "Rack S2, A3" */
  place: string;
  rackId: string;
  systemName: string;
  retired: boolean;
  /** The lot that stood there at the time of the move or since; null where it was free. */
  taken: { lotId: string; called: string; kind: string; gone: boolean } | null;
}

const same = (a: readonly string[], b: readonly string[]) =>
  a.length === b.length && a.every((id) => b.includes(id));

/**
 * Why each of several moves cannot be made, in their order; "" where it can. They are made at one moment, so a lot may
 * go where another of them leaves. One that cannot leave keeps its place, which may refuse others in turn.
 */
export function moveRefusals(
  moves: readonly LotMove[],
  slots: ReadonlyMap<string, WantedSlot>,
  at: Date,
): string[] {
  const reasons = moves.map((move) => ownReason(move, slots, at));
  for (;;) {
    const more = moves.findIndex(
      (move, i) => reasons[i] === '' && clash(move, i, moves, reasons, slots) !== '',
    );
    const move = moves[more];
    if (move === undefined) return reasons;
    reasons[more] = clash(move, more, moves, reasons, slots);
  }
}

/** What stands against a move whatever the others do. */
function ownReason(move: LotMove, slots: ReadonlyMap<string, WantedSlot>, at: Date): string {
  const { slotIds, ownSlotIds, pieces, since } = move;
  if (same(slotIds, ownSlotIds)) return slotIds.length === 0 ? 'It is on no rack.' : 'It is there already.';
  if (slotIds.length > 0 && pieces <= 0) return 'No pieces are left to place.';
  if (since !== null && at < since) return 'It came to its place only after that time.';
  const wanted = slotIds.map((id) => slots.get(id));
  if (wanted.some((slot) => slot === undefined)) return 'There is no such slot.';
  const retired = wanted.find((slot) => slot?.retired);
  if (retired !== undefined) return `${retired.systemName} is out of service.`;
  if (new Set(wanted.map((slot) => slot?.rackId)).size > 1) return 'A lot has slots on one rack only.';
  return '';
}

function clash(
  { lotId, slotIds }: LotMove,
  at: number,
  moves: readonly LotMove[],
  reasons: readonly string[],
  slots: ReadonlyMap<string, WantedSlot>,
): string {
  for (const id of slotIds) {
    const slot = slots.get(id);
    const taken = slot?.taken ?? null;
    if (slot !== undefined && taken !== null && taken.lotId !== lotId && !leaves(taken, moves, reasons))
      return taken.gone
        ? `${slot.place} was still taken by ${taken.called} at that time.`
        : `${slot.place} is taken by ${taken.called} (${taken.kind}).`;
    const first = moves.findIndex((other, i) => reasons[i] === '' && other.slotIds.includes(id));
    if (first >= 0 && first < at) return `${slot?.place ?? 'The slot'} is given to another of these lots.`;
  }
  return '';
}

/** Whether the lot that stands in a slot goes away by one of these moves; whether another comes is a clash of its own. */
const leaves = (
  taken: NonNullable<WantedSlot['taken']>,
  moves: readonly LotMove[],
  reasons: readonly string[],
): boolean => !taken.gone && moves.some((move, i) => move.lotId === taken.lotId && reasons[i] === '');

import { type OrderedMove, orderMoves, type Way } from './move-order.rules.ts';
import type { PlacementPlan } from './solve.rules.ts';

/** One line of the walk, by numbers of the board. */
export interface PlannedLine {
  lot: number;
  /** Where it is before this step; none: nowhere, or lifted out. */
  from: readonly number[];
  to: readonly number[];
  how: OrderedMove['how'];
}

/** A plan's moves in an order in which each finds its place free. */
export function walkOf(plan: PlacementPlan): PlannedLine[] {
  const { board, moves, before } = plan;
  const slotId = (slot: number) => board.slot(slot).id;
  const lotNumber = new Map(board.lots.map(({ id }, i) => [id, i]));
  const ways = [...moves].sort(inOrderOfPlaces).map(
    ([lot, slots]): Way => ({
      lotId: board.lot(lot).id,
      from: board.lot(lot).slotIds,
      to: slots.map(slotId),
    }),
  );
  const taken = new Map<string, string>();
  for (const [slot, lot] of before.entries()) if (lot >= 0) taken.set(slotId(slot), board.lot(lot).id);
  const numbers = (ids: readonly string[]) => ids.map((id) => board.slotNumber.get(id) as number);
  const steps = orderMoves(ways, taken, (lotId, isFree) =>
    waitingSlot(plan, lotNumber.get(lotId) as number, isFree),
  );
  const at = new Map<number, readonly number[]>();
  return steps.map(({ lotId, slotIds, how }) => {
    const lot = lotNumber.get(lotId) as number;
    const from = at.get(lot) ?? board.home[lot] ?? [];
    const to = numbers(slotIds);
    at.set(lot, to);
    return { lot, from, to, how };
  });
}

/** A slot that stays free and suits a lot for the while that it waits there. */
function waitingSlot(
  { board, before }: PlacementPlan,
  lot: number,
  isFree: (slotId: string) => boolean,
): string | null {
  for (const [number, slot] of board.slots.entries()) {
    if (!slot.open || before[number] !== -1 || !isFree(slot.id)) continue;
    if (board.wrongAt(lot, [number], before, false) === 0) return slot.id;
  }
  return null;
}

/** As one walks along the racks: by the first slot each goes to. */
const inOrderOfPlaces = ([, a]: [number, number[]], [, b]: [number, number[]]) => (a[0] ?? 0) - (b[0] ?? 0);

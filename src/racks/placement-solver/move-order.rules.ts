import type { PlacementPlan } from './solve.rules.ts';

/** A lot with the slots it takes now (none: it stands nowhere) and those it goes to. */
export interface LotMove {
  lotId: string;
  from: readonly string[];
  to: readonly string[];
}

/** One step. `moves`: to its place; `waits`: to a slot where it waits for its place; `lifted`: out of the water until its place is free. */
export interface OrderedMove {
  lotId: string;
  slotIds: readonly string[];
  how: 'moves' | 'waits' | 'lifted';
}

/**
 * Orders moves so that each place is free when its turn comes. Where lots change places in a circle, one of them waits in a
 * free slot meanwhile, or is lifted out where no free slot suits it.
 * @param taken the lot in each taken slot, lots that do not move included
 * @param waiting gives a slot where a lot can wait, among those for which `isFree` is true; null: none suits it
 */
export function orderMoves(
  lotMoves: readonly LotMove[],
  taken: ReadonlyMap<string, string>,
  waiting: (lotId: string, isFree: (slotId: string) => boolean) => string | null,
): OrderedMove[] {
  const lotInSlot = new Map(taken);
  const slotsOfLot = new Map(lotMoves.map(({ lotId, from }) => [lotId, from]));
  const wanted = new Set(lotMoves.flatMap(({ to }) => to));
  const pending = new Map(lotMoves.map((move) => [move.lotId, move]));
  const steps: OrderedMove[] = [];
  const step = (lotId: string, slotIds: readonly string[], how: OrderedMove['how']) => {
    for (const slot of slotsOfLot.get(lotId) ?? []) lotInSlot.delete(slot);
    for (const slot of slotIds) lotInSlot.set(slot, lotId);
    slotsOfLot.set(lotId, slotIds);
    steps.push({ lotId, slotIds, how });
  };
  const canMove = ({ lotId, to }: LotMove) => to.every((slot) => (lotInSlot.get(slot) ?? lotId) === lotId);
  while (pending.size > 0) {
    const possible = [...pending.values()].filter(canMove);
    for (const move of possible) {
      if (!canMove(move)) continue;
      step(move.lotId, move.to, 'moves');
      pending.delete(move.lotId);
    }
    if (possible.length > 0) continue;
    const { lotId, slotId } = lotToMoveAside(pending, lotInSlot, slotsOfLot, (lot) =>
      waiting(lot, (slot) => !lotInSlot.has(slot) && !wanted.has(slot)),
    );
    step(lotId, slotId === null ? [] : [slotId], slotId === null ? 'lifted' : 'waits');
  }
  return steps;
}

/** The lot to move aside where no move is possible: one that can wait in a slot, if there is any. @throws Error when a lot that stays is in the way */
function lotToMoveAside(
  pending: ReadonlyMap<string, LotMove>,
  lotInSlot: ReadonlyMap<string, string>,
  slotsOfLot: ReadonlyMap<string, readonly string[]>,
  waiting: (lotId: string) => string | null,
): { lotId: string; slotId: string | null } {
  const blocking = new Set<string>();
  for (const { lotId, to } of pending.values()) {
    for (const slot of to) {
      const other = lotInSlot.get(slot);
      if (other !== undefined && other !== lotId) blocking.add(other);
    }
  }
  const lots = [...blocking].filter((lot) => pending.has(lot));
  const [first] = lots;
  if (first === undefined) throw new Error('a move goes to a slot of a lot that stays');
  for (const lotId of lots) {
    const slotId = slotsOfLot.get(lotId)?.length === 1 ? waiting(lotId) : null;
    if (slotId !== null) return { lotId, slotId };
  }
  return { lotId: first, slotId: null };
}

/** One move of a plan, by numbers of the problem. */
export interface PlannedMove {
  lot: number;
  /** Where it is before this move; none: nowhere, or lifted out. */
  from: readonly number[];
  to: readonly number[];
  how: OrderedMove['how'];
}

/** A plan's moves in an order in which each finds its place free. */
export function orderedMoves(plan: PlacementPlan): PlannedMove[] {
  const { problem, moves, before } = plan;
  const slotId = (slot: number) => problem.slot(slot).id;
  const lotNumber = new Map(problem.lots.map(({ id }, i) => [id, i]));
  const lotMoves = [...moves].sort(bySlot).map(
    ([lot, slots]): LotMove => ({
      lotId: problem.lot(lot).id,
      from: problem.lot(lot).slotIds,
      to: slots.map(slotId),
    }),
  );
  const taken = new Map<string, string>();
  for (const [slot, lot] of before.entries()) if (lot >= 0) taken.set(slotId(slot), problem.lot(lot).id);
  const numbers = (ids: readonly string[]) => ids.map((id) => problem.slotNumber.get(id) as number);
  const steps = orderMoves(lotMoves, taken, (lotId, isFree) =>
    waitingSlot(plan, lotNumber.get(lotId) as number, isFree),
  );
  const at = new Map<number, readonly number[]>();
  return steps.map(({ lotId, slotIds, how }) => {
    const lot = lotNumber.get(lotId) as number;
    const from = at.get(lot) ?? problem.currentSlots[lot] ?? [];
    const to = numbers(slotIds);
    at.set(lot, to);
    return { lot, from, to, how };
  });
}

/** A slot that stays free and suits a lot for the while that it waits there. */
function waitingSlot(
  { problem, before }: PlacementPlan,
  lot: number,
  isFree: (slotId: string) => boolean,
): string | null {
  for (const [number, slot] of problem.slots.entries()) {
    if (!slot.open || before[number] !== -1 || !isFree(slot.id)) continue;
    if (problem.brokenLimitsWithNeighbours(lot, [number], before, false) === 0) return slot.id;
  }
  return null;
}

/** In the order of the racks: by the first slot each goes to. */
const bySlot = ([, a]: [number, number[]], [, b]: [number, number[]]) => (a[0] ?? 0) - (b[0] ?? 0);

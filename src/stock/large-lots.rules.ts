import type { Arrangement, Board } from './board.rules.ts';
import { mismatch, type Needs, type PlanLot, type PlanSlot } from './place-fit.rules.ts';

interface Offset {
  row: number;
  column: number;
}

/** Which slots beside the first a lot takes on a rack: as it takes them now, or as many as its size asks for there. */
export function shapeOn({ slots, home }: Board, lot: PlanLot, number: number, at: PlanSlot): Offset[] {
  const own = (home[number] ?? []).map((slot) => slots[slot] as PlanSlot);
  if (own.length > 0) {
    const [top, left] = [
      Math.min(...own.map(({ row }) => row)),
      Math.min(...own.map(({ column }) => column)),
    ];
    return own.map(({ row, column }) => ({ row: row - top, column: column - left }));
  }
  const count = (pitch: number | null) =>
    lot.sizeMm === null || pitch === null ? 1 : Math.ceil(lot.sizeMm / pitch);
  const [across, deep] = [count(at.widthMm), count(at.depthMm)];
  return Array.from({ length: across * deep }, (_, i) => ({
    row: Math.floor(i / across),
    column: i % across,
  }));
}

/** True when a lot takes several slots, or would on some rack that may be used. */
export function isLarge(board: Board, number: number): boolean {
  const own = board.home[number] ?? [];
  if (own.length > 0) return own.length > 1;
  const racks = new Map(board.slots.filter(({ open }) => open).map((slot) => [slot.rackId, slot]));
  return [...racks.values()].some((slot) => shapeOn(board, board.lot(number), number, slot).length > 1);
}

/**
 * Places lots of several slots, the largest first, each into the free slots that suit it best beside everything that
 * stands now. The arrangement is changed; lots that find nothing stay where they are.
 * @param wrong lots that are to be placed anew
 */
export function placeLarge(
  board: Board,
  wrong: readonly number[],
  holders: Arrangement,
): Map<number, number[]> {
  const found = new Map<number, number[]>();
  const size = (lot: number) => (board.home[lot] ?? []).length || (board.lot(lot).sizeMm ?? 0);
  for (const lot of [...wrong].sort((a, b) => size(b) - size(a))) {
    const best = bestPlace(board, lot, holders);
    if (best === null) continue;
    for (const slot of board.home[lot] ?? []) holders[slot] = -1;
    for (const slot of best) holders[slot] = lot;
    found.set(lot, best);
  }
  return found;
}

function bestPlace(board: Board, lot: number, holders: Arrangement): number[] | null {
  const cells = new Map(board.slots.map((slot, i) => [cellKey(slot.rackId, slot.row, slot.column), i]));
  let best: { slots: number[]; cost: number } | null = null;
  for (const at of board.slots) {
    if (!at.open) continue;
    const slots = shapeOn(board, board.lot(lot), lot, at).map(({ row, column }) =>
      cells.get(cellKey(at.rackId, at.row + row, at.column + column)),
    );
    if (!slots.every((slot) => slot !== undefined)) continue;
    if (!isFree(board, lot, slots, holders) || board.wrongAt(lot, slots, holders, false) !== 0) continue;
    const needs = board.needs[lot] as Needs;
    const cost = slots.reduce((sum, slot) => sum + mismatch(needs, board.slot(slot)), 0);
    if (best === null || cost < best.cost) best = { slots, cost };
  }
  return best?.slots ?? null;
}

const cellKey = (rackId: string, row: number, column: number) => `${rackId} ${row} ${column}`;

const isFree = (board: Board, lot: number, slots: readonly number[], holders: Arrangement) =>
  slots.every((slot) => board.slot(slot).open && (holders[slot] === -1 || holders[slot] === lot));

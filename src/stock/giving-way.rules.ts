import type { Arrangement, Board } from './board.rules.ts';

/**
 * The lots that give way so that the others are out of each other's reach: again and again the one with the most others
 * in reach; of two alike rather the one that moves than the one that stands.
 * @param lots those that may move; whoever else stands is no matter here
 */
export function whoGivesWay(board: Board, lots: readonly number[], holders: Arrangement): Set<number> {
  const places = new Map<number, number>();
  for (const [slot, lot] of holders.entries()) if (lot >= 0) places.set(lot, slot);
  const conflicts = conflictsOf(board, lots, places, holders);
  const moves = (lot: number) => board.home[lot]?.[0] !== places.get(lot);
  const giving = new Set<number>();
  // By how many they have in reach, so that the worst is found without looking at all of them each time.
  const ranks: Set<number>[] = [];
  const rank = (lot: number) => 2 * (conflicts.get(lot)?.size ?? 0) + (moves(lot) ? 1 : 0);
  const enter = (lot: number) => {
    const at = rank(lot);
    for (let i = ranks.length; i <= at; i++) ranks.push(new Set());
    ranks[at]?.add(lot);
  };
  for (const lot of conflicts.keys()) enter(lot);
  for (let at = ranks.length - 1; at > 1; ) {
    const [worst] = ranks[at] as Set<number>;
    if (worst === undefined) {
      at--;
      continue;
    }
    ranks[at]?.delete(worst);
    giving.add(worst);
    for (const other of conflicts.get(worst) ?? []) {
      ranks[rank(other)]?.delete(other);
      conflicts.get(other)?.delete(worst);
      enter(other);
    }
    conflicts.delete(worst);
  }
  return giving;
}

/** Who is in whose reach among the lots that may move. */
function conflictsOf(
  board: Board,
  lots: readonly number[],
  places: ReadonlyMap<number, number>,
  holders: Arrangement,
): Map<number, Set<number>> {
  const may = new Set(lots);
  const conflicts = new Map<number, Set<number>>();
  for (const lot of lots) {
    const slot = places.get(lot);
    if (slot === undefined) continue;
    const stands = board.home[lot]?.[0] === slot && !board.isMeasured([slot]);
    const reached = board
      .reached(lot, [slot], holders)
      .filter((other) => may.has(other) && !(stands && board.home[other]?.[0] === places.get(other)));
    if (reached.length > 0) conflicts.set(lot, new Set(reached));
  }
  return conflicts;
}

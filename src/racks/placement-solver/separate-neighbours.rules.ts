import type { RowOptions } from '../../science/assignment/sparse.ts';
import type { Arrangement, IndexedProblem, Pause } from './indexed-problem.rules.ts';

/** What a lot costs that stays unsuited or unplaced, in the unit of `mismatchCost`: more than any move costs. */
export const UNPLACED_COST = 1000;
/** What each neighbour of its own kind takes off a slot's cost: kinds that stand together leave room for others (own choice). */
const SAME_KIND_BONUS = 0.25;
/** The bonus is counted only where this many neighbours of its kind would decide: those around one slot of a grid (own choice). */
const MOST_NEIGHBOURS = 8;
/** When more than this share of the moving lots must be relocated, all of them are assigned again (own choice). */
const RELOCATE_ALL_SHARE = 0.1;
/** How many of its cheapest slots are tried for a lot that fits only when others are displaced, and how many in all: both bound the time (own choice). */
const SLOTS_TRIED_PER_LOT = 25;
const SLOTS_TRIED_IN_ALL = 4000;

/**
 * Separates neighbours in reach. The assignment gives each lot a slot without looking at the other lots, so two kinds can
 * end up in each other's reach. Some of them are then relocated: to the best free slot out of reach of every other lot, or
 * to a slot from which one or two others can be displaced. A lot for which neither is found keeps its present slot, and
 * whichever lot was assigned to that slot is relocated in turn. At the end no lot that moves is in reach of another. This
 * ends, since a lot that was sent back to its present slot stays there.
 */
export class NeighbourSeparation {
  readonly #problem: IndexedProblem;
  readonly #arrangement: Arrangement;
  readonly #options: ReadonlyMap<number, RowOptions>;
  readonly #slotOf = new Map<number, number>();
  /** Lots that keep their present slots: they are not assigned again. */
  readonly #keptInPlace = new Set<number>();
  #slotsTried = 0;

  /** @param options the slots each movable lot can have, with their costs; a number beyond the slots means unplaced */
  constructor(problem: IndexedProblem, arrangement: Arrangement, options: ReadonlyMap<number, RowOptions>) {
    this.#problem = problem;
    this.#arrangement = arrangement;
    this.#options = options;
    for (const [slot, lot] of arrangement.entries()) if (options.has(lot)) this.#slotOf.set(lot, slot);
  }

  async run(pause: Pause): Promise<void> {
    const relocating = this.#fewestOptionsFirst(this.#lotsToReassign());
    await pause();
    for (const lot of relocating) this.#unassign(lot);
    const unassigned: number[] = [];
    for (const lot of relocating) {
      if (!this.#assignBest(lot)) unassigned.push(lot);
      await pause();
    }
    for (const lot of unassigned) {
      if (!this.#assignBest(lot) && !this.#assignByDisplacing(lot)) this.#keepInPlace(lot);
      await pause();
    }
    await this.#resolveConflictsOfMoved(pause);
    await this.#retryUnsuited(pause);
  }

  /** Assigns moved lots again that came into reach of a lot that kept its present slot. */
  async #resolveConflictsOfMoved(pause: Pause): Promise<void> {
    for (
      let conflicting = this.#movedLotsInConflict();
      conflicting.length > 0;
      conflicting = this.#movedLotsInConflict()
    ) {
      for (const lot of conflicting) {
        const slot = this.#slotOf.get(lot);
        if (slot === undefined || !this.#hasMoved(lot) || this.#neighboursInReach(lot, slot).length === 0)
          continue;
        this.#unassign(lot);
        if (!this.#assignBest(lot)) this.#keepInPlace(lot);
        await pause();
      }
    }
  }

  /** Tries once more to place the lots that are still unsuited or unplaced. */
  async #retryUnsuited(pause: Pause): Promise<void> {
    for (const lot of this.#options.keys()) {
      const slot = this.#slotOf.get(lot);
      if (slot !== undefined && (this.#hasMoved(lot) || !this.#isUnsuited(lot, slot))) continue;
      this.#unassign(lot);
      if (!this.#assignBest(lot)) this.#assign(lot, slot);
      await pause();
    }
  }

  #isUnsuited(lot: number, slot: number): boolean {
    return this.#problem.brokenLimitsWithNeighbours(lot, [slot], this.#arrangement, true) !== 0;
  }

  #movedLotsInConflict(): number[] {
    return [...this.#slotOf.entries()]
      .filter(([lot, slot]) => this.#hasMoved(lot) && this.#neighboursInReach(lot, slot).length > 0)
      .map(([lot]) => lot);
  }

  /** The lots to relocate; where they are many, all moving lots, so that each kind can stand together. */
  #lotsToReassign(): ReadonlySet<number> {
    const relocating = lotsToRelocate(this.#problem, [...this.#options.keys()], this.#arrangement);
    const moved = [...this.#slotOf.keys()].filter((lot) => this.#hasMoved(lot));
    return relocating.size > moved.length * RELOCATE_ALL_SHARE
      ? new Set([...relocating, ...moved])
      : relocating;
  }

  /** Kind by kind, the kind with the fewest possible slots first. */
  #fewestOptionsFirst(lots: ReadonlySet<number>): number[] {
    const choices = (lot: number) => this.#options.get(lot)?.columns.length ?? 0;
    const kinds = Map.groupBy(lots, (lot) => this.#problem.lot(lot).kindId);
    const fewest = (kind: readonly number[]) => Math.min(...kind.map(choices));
    return [...kinds.values()]
      .sort((a, b) => fewest(a) - fewest(b))
      .flatMap((kind) => kind.sort((a, b) => choices(a) - choices(b)));
  }

  /** Assigns a lot its best free slot out of reach of every other lot. */
  #assignBest(lot: number): boolean {
    if (this.#keptInPlace.has(lot)) return false;
    const { columns, costs } = this.#options.get(lot) as RowOptions;
    let [best, least] = [-1, UNPLACED_COST];
    for (let i = 0; i < columns.length; i++) {
      const slot = columns[i] as number;
      const cost = (costs[i] as number) - this.#sameKindBonus(lot, slot, costs[i] as number, least);
      if (cost >= least || this.#arrangement[slot] !== -1 || this.#neighboursInReach(lot, slot).length > 0)
        continue;
      [best, least] = [slot, cost];
    }
    if (best < 0) return false;
    this.#assign(lot, best);
    return true;
  }

  /** What neighbours of its own kind take off a slot's cost; counted only where it could decide. */
  #sameKindBonus(lot: number, slot: number, cost: number, least: number): number {
    if (
      cost >= UNPLACED_COST ||
      cost - MOST_NEIGHBOURS * SAME_KIND_BONUS > least ||
      slot >= this.#arrangement.length
    )
      return 0;
    return SAME_KIND_BONUS * this.#problem.sameKindBeside(lot, slot, this.#arrangement);
  }

  /** Assigns a lot a slot that is blocked by one or two others, when those find another slot themselves. */
  #assignByDisplacing(lot: number): boolean {
    const { columns, costs } = this.#options.get(lot) as RowOptions;
    const order = [...columns.keys()]
      .filter((i) => (costs[i] as number) < UNPLACED_COST)
      .sort((a, b) => (costs[a] as number) - (costs[b] as number));
    for (const i of order.slice(0, SLOTS_TRIED_PER_LOT)) {
      if (this.#slotsTried++ > SLOTS_TRIED_IN_ALL) return false;
      if (this.#tryDisplacing(lot, columns[i] as number)) return true;
    }
    return false;
  }

  #tryDisplacing(lot: number, slot: number): boolean {
    const occupant = this.#arrangement[slot] as number;
    const displaced = [
      ...new Set([...(occupant < 0 ? [] : [occupant]), ...this.#neighboursInReach(lot, slot)]),
    ];
    if (
      displaced.length > 2 ||
      !displaced.every((other) => this.#slotOf.has(other) && !this.#keptInPlace.has(other))
    )
      return false;
    const previous = displaced.map((other) => [other, this.#slotOf.get(other) as number] as const);
    for (const other of displaced) this.#unassign(other);
    this.#assign(lot, slot);
    if (displaced.every((other) => this.#assignBest(other))) return true;
    for (const one of [lot, ...displaced]) this.#unassign(one);
    for (const [other, was] of previous) this.#assign(other, was);
    return false;
  }

  /** Returns a lot to its present slot; a lot that was assigned to it finds another, or is returned as well. */
  #keepInPlace(lot: number): void {
    this.#unassign(lot);
    this.#keptInPlace.add(lot);
    const [home] = this.#problem.currentSlots[lot] ?? [];
    if (home === undefined) return;
    const other = this.#arrangement[home] as number;
    if (other >= 0) this.#unassign(other);
    this.#assign(lot, home);
    if (other >= 0 && !this.#assignBest(other)) this.#keepInPlace(other);
  }

  #hasMoved(lot: number): boolean {
    return this.#problem.currentSlots[lot]?.[0] !== this.#slotOf.get(lot);
  }

  #neighboursInReach(lot: number, slot: number): number[] {
    return this.#problem.neighboursInReach(lot, [slot], this.#arrangement);
  }

  #unassign(lot: number): void {
    const slot = this.#slotOf.get(lot);
    if (slot !== undefined) this.#arrangement[slot] = -1;
    this.#slotOf.delete(lot);
  }

  #assign(lot: number, slot: number | undefined): void {
    if (slot === undefined) return;
    this.#arrangement[slot] = lot;
    this.#slotOf.set(lot, slot);
  }
}

/**
 * The lots to relocate so that no two of the others are in each other's reach (a greedy vertex cover of the conflicts):
 * again and again the lot with the most conflicts; of two with equally many, the one that moves before the one that
 * stays in its slot.
 * @param lots those that may move; conflicts with other lots do not count here
 */
export function lotsToRelocate(
  problem: IndexedProblem,
  lots: readonly number[],
  arrangement: Arrangement,
): Set<number> {
  const places = new Map<number, number>();
  for (const [slot, lot] of arrangement.entries()) if (lot >= 0) places.set(lot, slot);
  const conflicts = conflictsOf(problem, lots, places, arrangement);
  const moves = (lot: number) => problem.currentSlots[lot]?.[0] !== places.get(lot);
  const relocating = new Set<number>();
  // Buckets by number of conflicts, so that the lot with the most is found without a search through all of them.
  const buckets: Set<number>[] = [];
  const rank = (lot: number) => 2 * (conflicts.get(lot)?.size ?? 0) + (moves(lot) ? 1 : 0);
  const addToBucket = (lot: number) => {
    const at = rank(lot);
    for (let i = buckets.length; i <= at; i++) buckets.push(new Set());
    buckets[at]?.add(lot);
  };
  for (const lot of conflicts.keys()) addToBucket(lot);
  for (let at = buckets.length - 1; at > 1; ) {
    const [worst] = buckets[at] as Set<number>;
    if (worst === undefined) {
      at--;
      continue;
    }
    buckets[at]?.delete(worst);
    relocating.add(worst);
    for (const other of conflicts.get(worst) ?? []) {
      buckets[rank(other)]?.delete(other);
      conflicts.get(other)?.delete(worst);
      addToBucket(other);
    }
    conflicts.delete(worst);
  }
  return relocating;
}

/** For each movable lot the movable lots in its reach. */
function conflictsOf(
  problem: IndexedProblem,
  lots: readonly number[],
  places: ReadonlyMap<number, number>,
  arrangement: Arrangement,
): Map<number, Set<number>> {
  const movable = new Set(lots);
  const conflicts = new Map<number, Set<number>>();
  for (const lot of lots) {
    const slot = places.get(lot);
    if (slot === undefined) continue;
    const unmeasured = problem.currentSlots[lot]?.[0] === slot && !problem.hasKnownSize([slot]);
    const reached = problem
      .neighboursInReach(lot, [slot], arrangement)
      .filter(
        (other) =>
          movable.has(other) && !(unmeasured && problem.currentSlots[other]?.[0] === places.get(other)),
      );
    if (reached.length > 0) conflicts.set(lot, new Set(reached));
  }
  return conflicts;
}

import { type RowOptions, SparseAssignment } from '../../science/assignment/sparse.ts';
import {
  type Arrangement,
  IndexedProblem,
  type Pause,
  type PlacementProblem,
} from './indexed-problem.rules.ts';
import { placeMultiSlotLots, takesSeveralSlots } from './multi-slot-lots.rules.ts';
import { NeighbourSeparation, UNPLACED_COST } from './separate-neighbours.rules.ts';
import {
  brokenLimits,
  MOVE_COST,
  mismatchCost,
  type Needs,
  OTHER_SYSTEM_COST,
  tooLarge,
} from './slot-fit.rules.ts';

/** A solution: where lots should stand. */
export interface PlacementPlan {
  problem: IndexedProblem;
  before: Arrangement;
  after: Arrangement;
  /** The lots that move, by number, with the slots they go to. */
  moves: Map<number, number[]>;
  /** Chosen lots that are unsuited or unplaced afterwards. */
  unresolved: number[];
}

/**
 * Works out where the chosen lots should stand. Every limit holds for every lot that moves. Then, in this order: as few
 * lots as possible are left unsuited or unplaced, and the mismatch is least with few moves (a lot that stands well costs
 * nothing where it is). For lots of one slot this is the exact optimum as long as no two kinds come into each other's
 * reach; where they do, neighbours are separated round by round, and a lot that cannot be separated does not move. Lots
 * of several slots are placed first, each on a good set of free slots; those that stand well stay.
 * @param pause called between pieces of the work
 */
export async function planPlacement(
  input: PlacementProblem,
  pause: Pause = () => undefined,
): Promise<PlacementPlan> {
  const problem = new IndexedProblem(input);
  await pause();
  const before = problem.currentArrangement();
  const movers = [...problem.lots.keys()].filter((lot) => problem.lot(lot).role !== 'stays');
  const multiSlot = movers.filter((lot) => takesSeveralSlots(problem, lot));
  const after = before.slice();
  const isUnsuited = (lot: number) =>
    problem.currentSlots[lot]?.length === 0 ||
    problem.brokenLimitsWithNeighbours(lot, problem.currentSlots[lot] ?? [], before, true) !== 0;
  await placeMultiSlotLots(problem, multiSlot.filter(isUnsuited), after, pause);
  const settled = new Set(multiSlot);
  const assignment = new SingleSlotAssignment(
    problem,
    movers.filter((lot) => !settled.has(lot)),
    after,
  );
  await assignment.solve(pause);
  return planOf(problem, before, after);
}

function planOf(problem: IndexedProblem, before: Arrangement, after: Arrangement): PlacementPlan {
  const places = new Map<number, number[]>();
  for (const [slot, lot] of after.entries())
    if (lot >= 0) places.set(lot, [...(places.get(lot) ?? []), slot]);
  const moved = [...places].filter(([lot, slots]) => slots.some((slot) => before[slot] !== lot));
  const moves = new Map(moved);
  const unresolved = [...problem.lots.keys()].filter((lot) => {
    const slots = places.get(lot);
    if (problem.lot(lot).role !== 'chosen' || moves.has(lot)) return false;
    return slots === undefined || problem.brokenLimitsWithNeighbours(lot, slots, after, true) !== 0;
  });
  return { problem, before, after, moves, unresolved };
}

/** Places lots of one slot: solves the assignment problem, then separates neighbours in reach. */
class SingleSlotAssignment {
  readonly #problem: IndexedProblem;
  /** The lot of each row of the assignment. */
  readonly #lots: readonly number[];
  readonly #arrangement: Arrangement;
  /** The slots that lots which stay keep. */
  readonly #kept: Arrangement;

  constructor(problem: IndexedProblem, lots: readonly number[], arrangement: Arrangement) {
    this.#problem = problem;
    this.#lots = lots;
    this.#arrangement = arrangement;
    const moving = new Set(lots);
    this.#kept = arrangement.map((lot) => (moving.has(lot) ? -1 : lot));
  }

  async solve(pause: Pause): Promise<void> {
    const options = await this.#weighSlots(pause);
    const sparse = new SparseAssignment(options, this.#problem.slots.length + this.#lots.length);
    for (const _ of sparse.steps()) await pause();
    this.#arrangement.set(this.#kept);
    for (const [row, lot] of this.#lots.entries()) {
      const column = sparse.columnOf(row);
      if (column >= 0 && column < this.#arrangement.length) this.#arrangement[column] = lot;
    }
    const byLot = new Map(this.#lots.map((lot, row) => [lot, options[row] as RowOptions]));
    await new NeighbourSeparation(this.#problem, this.#arrangement, byLot).run(pause);
  }

  /** The slots each lot can have, with their costs; a lot that stands nowhere has a column of its own for staying so. */
  async #weighSlots(pause: Pause): Promise<RowOptions[]> {
    const options: RowOptions[] = [];
    const known = new Map<string, Uint8Array>();
    for (const [row, lot] of this.#lots.entries()) {
      const key = this.#problem.reachKey(lot);
      const blocked = known.get(key) ?? this.#problem.slotsInReach(lot, this.#kept);
      known.set(key, blocked);
      options.push(this.#optionsOf(row, lot, blocked));
      await pause();
    }
    return options;
  }

  #optionsOf(row: number, lot: number, blocked: Uint8Array): RowOptions {
    const { slots } = this.#problem;
    const needs = this.#problem.needs[lot] as Needs;
    const home = this.#problem.currentSlots[lot]?.[0] ?? -1;
    const homeSystem = home < 0 ? null : slots[home]?.systemId;
    const [columns, costs]: [number[], number[]] = [[], []];
    for (const [i, slot] of slots.entries()) {
      if (i === home || !slot.open || this.#kept[i] !== -1 || blocked[i] === 1) continue;
      if (brokenLimits(needs, slot, false) !== 0 || tooLarge(needs, slot, 1, 1)) continue;
      const otherSystem = homeSystem === null || homeSystem === slot.systemId ? 0 : OTHER_SYSTEM_COST;
      columns.push(i);
      costs.push(MOVE_COST + otherSystem + mismatchCost(needs, slot));
    }
    const separated = home < 0 || blocked[home] === 0 || !this.#problem.hasKnownSize([home]);
    const stays = home >= 0 && separated && this.#problem.brokenLimits(lot, [home], true) === 0;
    columns.push(home >= 0 ? home : slots.length + row);
    costs.push(stays ? 0 : UNPLACED_COST);
    return { columns: Int32Array.from(columns), costs: Float64Array.from(costs) };
  }
}

/** The unsuited lots of an arrangement, by number, with the limits they break as a mask. */
export function brokenLimitsByLot(problem: IndexedProblem, arrangement: Arrangement): Map<number, number> {
  const places = new Map<number, number[]>();
  for (const [slot, lot] of arrangement.entries())
    if (lot >= 0) places.set(lot, [...(places.get(lot) ?? []), slot]);
  const masks = [...places].map(
    ([lot, slots]) => [lot, problem.brokenLimitsWithNeighbours(lot, slots, arrangement, true)] as const,
  );
  return new Map(masks.filter(([, mask]) => mask !== 0));
}

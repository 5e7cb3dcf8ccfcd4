import { type RowOptions, SparseAssignment } from '../../science/assignment/sparse.ts';
import { type Arrangement, Board, type PlanProblem } from './board.rules.ts';
import { isLarge, placeLarge } from './multi-slot-lots.rules.ts';
import { Parting, WRONG } from './separate-neighbours.rules.ts';
import { brokenAt, MOVE_PRICE, mismatch, type Needs, OTHER_WATER_PRICE, tooLarge } from './slot-fit.rules.ts';

/** Where lots should stand. */
export interface PlacementPlan {
  board: Board;
  before: Arrangement;
  after: Arrangement;
  /** The lots that move, by number, with the slots they go to. */
  moves: Map<number, number[]>;
  /** Chosen lots that stand wrong, or nowhere, afterwards. */
  nowhere: number[];
}

type Breathe = () => Promise<void> | undefined;

/**
 * Works out where the chosen lots should stand: every limit kept for every lot that moves, as few as possible left
 * wrong or nowhere, then least mismatch with few moves (a lot that stands well costs nothing where it is). Exact for
 * lots of one slot as long as no two kinds come into each other's reach; where they do, they are parted round by round,
 * and what cannot be parted does not move. Lots of several slots go first, each to a good place among those that are free, and those that stand well stay.
 * @param breathe called between pieces of the work
 */
export async function planPlacement(
  problem: PlanProblem,
  breathe: Breathe = () => undefined,
): Promise<PlacementPlan> {
  const board = new Board(problem);
  await breathe();
  const before = board.now();
  const movers = [...board.lots.keys()].filter((lot) => board.lot(lot).part !== 'stays');
  const large = movers.filter((lot) => isLarge(board, lot));
  const after = before.slice();
  const isWrong = (lot: number) =>
    board.home[lot]?.length === 0 || board.wrongAt(lot, board.home[lot] ?? [], before, true) !== 0;
  await placeLarge(board, large.filter(isWrong), after, breathe);
  const settled = new Set(large);
  const singles = new Singles(
    board,
    movers.filter((lot) => !settled.has(lot)),
    after,
  );
  await singles.solve(breathe);
  return finished(board, before, after);
}

function finished(board: Board, before: Arrangement, after: Arrangement): PlacementPlan {
  const places = new Map<number, number[]>();
  for (const [slot, lot] of after.entries())
    if (lot >= 0) places.set(lot, [...(places.get(lot) ?? []), slot]);
  const moved = [...places].filter(([lot, slots]) => slots.some((slot) => before[slot] !== lot));
  const moves = new Map(moved);
  const nowhere = [...board.lots.keys()].filter((lot) => {
    const slots = places.get(lot);
    if (board.lot(lot).part !== 'chosen' || moves.has(lot)) return false;
    return slots === undefined || board.wrongAt(lot, slots, after, true) !== 0;
  });
  return { board, before, after, moves, nowhere };
}

/** The lots of one slot: an assignment, then neighbours are parted. */
class Singles {
  readonly #board: Board;
  /** Row by row the lot's number. */
  readonly #lots: readonly number[];
  readonly #holders: Arrangement;
  /** The slots that lots which stay keep. */
  readonly #kept: Arrangement;

  constructor(board: Board, lots: readonly number[], holders: Arrangement) {
    this.#board = board;
    this.#lots = lots;
    this.#holders = holders;
    const moving = new Set(lots);
    this.#kept = holders.map((lot) => (moving.has(lot) ? -1 : lot));
  }

  async solve(breathe: Breathe): Promise<void> {
    const options = await this.#weigh(breathe);
    const pairing = new SparseAssignment(options, this.#board.slots.length + this.#lots.length);
    for (const _ of pairing.steps()) await breathe();
    this.#holders.set(this.#kept);
    for (const [row, lot] of this.#lots.entries()) {
      const column = pairing.columnOf(row);
      if (column >= 0 && column < this.#holders.length) this.#holders[column] = lot;
    }
    const byLot = new Map(this.#lots.map((lot, row) => [lot, options[row] as RowOptions]));
    await new Parting(this.#board, this.#holders, byLot).part(breathe);
  }

  /** What each lot can have and at which price: slots, and for a lot that stands nowhere a column of its own for that. */
  async #weigh(breathe: Breathe): Promise<RowOptions[]> {
    const options: RowOptions[] = [];
    const known = new Map<string, Uint8Array>();
    for (const [row, lot] of this.#lots.entries()) {
      const key = this.#board.reachKey(lot);
      const spoilt = known.get(key) ?? this.#board.spoilt(lot, this.#kept);
      known.set(key, spoilt);
      options.push(this.#optionsOf(row, lot, spoilt));
      await breathe();
    }
    return options;
  }

  #optionsOf(row: number, lot: number, spoilt: Uint8Array): RowOptions {
    const { slots } = this.#board;
    const needs = this.#board.needs[lot] as Needs;
    const home = this.#board.home[lot]?.[0] ?? -1;
    const homeSystem = home < 0 ? null : slots[home]?.systemId;
    const [columns, costs]: [number[], number[]] = [[], []];
    for (const [i, slot] of slots.entries()) {
      if (i === home || !slot.open || this.#kept[i] !== -1 || spoilt[i] === 1) continue;
      if (brokenAt(needs, slot, false) !== 0 || tooLarge(needs, slot, 1, 1)) continue;
      const water = homeSystem === null || homeSystem === slot.systemId ? 0 : OTHER_WATER_PRICE;
      columns.push(i);
      costs.push(MOVE_PRICE + water + mismatch(needs, slot));
    }
    const parted = home < 0 || spoilt[home] === 0 || !this.#board.isMeasured([home]);
    const stays = home >= 0 && parted && this.#board.broken(lot, [home], true) === 0;
    columns.push(home >= 0 ? home : slots.length + row);
    costs.push(stays ? 0 : WRONG);
    return { columns: Int32Array.from(columns), costs: Float64Array.from(costs) };
  }
}

/** The lots of an arrangement that stand wrong, by number, with the limits that are broken. */
export function wrongIn(board: Board, holders: Arrangement): Map<number, number> {
  const places = new Map<number, number[]>();
  for (const [slot, lot] of holders.entries())
    if (lot >= 0) places.set(lot, [...(places.get(lot) ?? []), slot]);
  const masks = [...places].map(([lot, slots]) => [lot, board.wrongAt(lot, slots, holders, true)] as const);
  return new Map(masks.filter(([, mask]) => mask !== 0));
}

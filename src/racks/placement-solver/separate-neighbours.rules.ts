import type { RowOptions } from '../../science/assignment/sparse.ts';
import type { Arrangement, Board } from './board.rules.ts';

/** What standing wrong, or nowhere, costs: more than any move. */
export const WRONG = 1000;
/** What each neighbour of its own kind is worth to a lot: kinds that stand together leave room for others (own choice). */
const KIN_WORTH = 0.25;
/** From this part of those that move on, all of them are placed anew when neighbours are parted. */
const MANY = 0.1;
/** How many of its cheapest places are tried for a lot that only fits when others step aside, and how often in all. */
const TRIES = 25;
const TRIES_IN_ALL = 4000;

type Breathe = () => Promise<void> | undefined;

/**
 * Takes lots out of each other's reach after they were paired with slots one by one. Of those in reach some give way:
 * each to the best free slot out of everybody's reach, or to one where others can step aside; else it stands where it
 * does now, and whoever went to its place looks for another in turn. At the end nobody who moves is in anybody's reach:
 * each lot sent home stays there, so that this ends, with everybody at home if need be.
 */
export class Parting {
  readonly #board: Board;
  readonly #holders: Arrangement;
  readonly #options: ReadonlyMap<number, RowOptions>;
  readonly #slotOf = new Map<number, number>();
  /** Lots that went back to where they stand now, for good. */
  readonly #home = new Set<number>();
  #tries = 0;

  /** @param options what each lot that may move can have; slots that the board does not have stand for nowhere */
  constructor(board: Board, holders: Arrangement, options: ReadonlyMap<number, RowOptions>) {
    this.#board = board;
    this.#holders = holders;
    this.#options = options;
    for (const [slot, lot] of holders.entries()) if (options.has(lot)) this.#slotOf.set(lot, slot);
  }

  async part(breathe: Breathe): Promise<void> {
    const giving = this.#scarcestFirst(this.#whoIsPlacedAnew());
    await breathe();
    for (const lot of giving) this.#lift(lot);
    const left: number[] = [];
    for (const lot of giving) {
      if (!this.#settle(lot)) left.push(lot);
      await breathe();
    }
    for (const lot of left) {
      if (!this.#settle(lot) && !this.#squeeze(lot)) this.#goHome(lot);
      await breathe();
    }
    await this.#calm(breathe);
    await this.#fill(breathe);
  }

  /** Moves that a lot come home has brought into reach look for another place. */
  async #calm(breathe: Breathe): Promise<void> {
    for (let bad = this.#movedInReach(); bad.length > 0; bad = this.#movedInReach()) {
      for (const lot of bad) {
        const slot = this.#slotOf.get(lot);
        if (slot === undefined || !this.#hasMoved(lot) || this.#reached(lot, slot).length === 0) continue;
        this.#lift(lot);
        if (!this.#settle(lot)) this.#goHome(lot);
        await breathe();
      }
    }
  }

  /** A last look for those that still stand wrong, or nowhere. */
  async #fill(breathe: Breathe): Promise<void> {
    for (const lot of this.#options.keys()) {
      const slot = this.#slotOf.get(lot);
      if (slot !== undefined && (this.#hasMoved(lot) || !this.#isWrong(lot, slot))) continue;
      this.#lift(lot);
      if (!this.#settle(lot)) this.#put(lot, slot);
      await breathe();
    }
  }

  #isWrong(lot: number, slot: number): boolean {
    return this.#board.wrongAt(lot, [slot], this.#holders, true) !== 0;
  }

  #movedInReach(): number[] {
    return [...this.#slotOf.entries()]
      .filter(([lot, slot]) => this.#hasMoved(lot) && this.#reached(lot, slot).length > 0)
      .map(([lot]) => lot);
  }

  /** Those that give way; where they are many, everybody who moves, so that each kind can stand together. */
  #whoIsPlacedAnew(): ReadonlySet<number> {
    const giving = whoGivesWay(this.#board, [...this.#options.keys()], this.#holders);
    const moved = [...this.#slotOf.keys()].filter((lot) => this.#hasMoved(lot));
    return giving.size > moved.length * MANY ? new Set([...giving, ...moved]) : giving;
  }

  /** Kind by kind, the kind that has the fewest places first. */
  #scarcestFirst(lots: ReadonlySet<number>): number[] {
    const choices = (lot: number) => this.#options.get(lot)?.columns.length ?? 0;
    const kinds = Map.groupBy(lots, (lot) => this.#board.lot(lot).kindId);
    const fewest = (kind: readonly number[]) => Math.min(...kind.map(choices));
    return [...kinds.values()]
      .sort((a, b) => fewest(a) - fewest(b))
      .flatMap((kind) => kind.sort((a, b) => choices(a) - choices(b)));
  }

  /** Puts a lot into its best free slot out of everybody's reach. */
  #settle(lot: number): boolean {
    if (this.#home.has(lot)) return false;
    const { columns, costs } = this.#options.get(lot) as RowOptions;
    let [best, least] = [-1, WRONG];
    for (let i = 0; i < columns.length; i++) {
      const slot = columns[i] as number;
      const cost = (costs[i] as number) - this.#kinWorth(lot, slot, costs[i] as number, least);
      if (cost >= least || this.#holders[slot] !== -1 || this.#reached(lot, slot).length > 0) continue;
      [best, least] = [slot, cost];
    }
    if (best < 0) return false;
    this.#put(lot, best);
    return true;
  }

  /** Only counted where it could decide. */
  #kinWorth(lot: number, slot: number, cost: number, least: number): number {
    if (cost >= WRONG || cost - 8 * KIN_WORTH > least || slot >= this.#holders.length) return 0;
    return KIN_WORTH * this.#board.kinBeside(lot, slot, this.#holders);
  }

  /** Puts a lot where one or two others are in the way that find another place themselves. */
  #squeeze(lot: number): boolean {
    const { columns, costs } = this.#options.get(lot) as RowOptions;
    const order = [...columns.keys()]
      .filter((i) => (costs[i] as number) < WRONG)
      .sort((a, b) => (costs[a] as number) - (costs[b] as number));
    for (const i of order.slice(0, TRIES)) {
      if (this.#tries++ > TRIES_IN_ALL) return false;
      if (this.#tryAside(lot, columns[i] as number)) return true;
    }
    return false;
  }

  #tryAside(lot: number, slot: number): boolean {
    const there = this.#holders[slot] as number;
    const aside = [...new Set([...(there < 0 ? [] : [there]), ...this.#reached(lot, slot)])];
    if (aside.length > 2 || !aside.every((other) => this.#slotOf.has(other) && !this.#home.has(other)))
      return false;
    const were = aside.map((other) => [other, this.#slotOf.get(other) as number] as const);
    for (const other of aside) this.#lift(other);
    this.#put(lot, slot);
    if (aside.every((other) => this.#settle(other))) return true;
    for (const one of [lot, ...aside]) this.#lift(one);
    for (const [other, was] of were) this.#put(other, was);
    return false;
  }

  /** Stands again where it does now; whoever is there finds another place or goes home as well. */
  #goHome(lot: number): void {
    this.#lift(lot);
    this.#home.add(lot);
    const [home] = this.#board.home[lot] ?? [];
    if (home === undefined) return;
    const other = this.#holders[home] as number;
    if (other >= 0) this.#lift(other);
    this.#put(lot, home);
    if (other >= 0 && !this.#settle(other)) this.#goHome(other);
  }

  #hasMoved(lot: number): boolean {
    return this.#board.home[lot]?.[0] !== this.#slotOf.get(lot);
  }

  #reached(lot: number, slot: number): number[] {
    return this.#board.reached(lot, [slot], this.#holders);
  }

  #lift(lot: number): void {
    const slot = this.#slotOf.get(lot);
    if (slot !== undefined) this.#holders[slot] = -1;
    this.#slotOf.delete(lot);
  }

  #put(lot: number, slot: number | undefined): void {
    if (slot === undefined) return;
    this.#holders[slot] = lot;
    this.#slotOf.set(lot, slot);
  }
}

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

import { inReach, slotsWithin } from '../../stock/places/reach.rules.ts';
import {
  brokenLimits,
  LIMITS,
  type Needs,
  needsOf,
  type PlanLot,
  type PlanSlot,
  tooLarge,
} from './slot-fit.rules.ts';

/** Lots and the slots they may be assigned to. Every slot that a lot takes now is among the slots. */
export interface PlacementProblem {
  lots: readonly PlanLot[];
  slots: readonly PlanSlot[];
}

/** The lot in each slot, by number; -1: free. */
export type Arrangement = Int32Array;

/** Called between pieces of long work, so that other work gets its turn. */
export type Pause = () => Promise<void> | undefined;

/** A placement problem whose lots and slots are known by number: their index in the lists. */
export class IndexedProblem {
  readonly lots: readonly PlanLot[];
  readonly slots: readonly PlanSlot[];
  readonly needs: readonly Needs[];
  /** The slots each lot takes now. */
  readonly currentSlots: readonly (readonly number[])[];
  readonly slotNumber: ReadonlyMap<string, number>;
  /** One slot of each rack that may be used. */
  readonly slotOfEachOpenRack: readonly PlanSlot[];
  readonly #cells: ReadonlyMap<string, number>;
  readonly #near: { slot: number; distance: number }[][];

  constructor({ lots, slots }: PlacementProblem) {
    this.lots = lots;
    this.slots = slots;
    this.needs = lots.map(needsOf);
    this.slotNumber = new Map(slots.map(({ id }, i) => [id, i]));
    this.#cells = new Map(slots.map((slot, i) => [cellKey(slot.rackId, slot.row, slot.column), i]));
    this.slotOfEachOpenRack = [
      ...new Map(slots.filter(({ open }) => open).map((slot) => [slot.rackId, slot])).values(),
    ];
    this.currentSlots = lots.map(({ slotIds }) => slotIds.map((id) => this.#numberOf(id)));
    const reach = Math.max(0, ...this.needs.map(({ reachMm }) => reachMm));
    const size = Math.max(0, ...this.needs.map(({ sizeMm }) => sizeMm));
    this.#near = slotsWithin(slots, reach === 0 ? 0 : reach + size);
  }

  #numberOf(slotId: string): number {
    const number = this.slotNumber.get(slotId);
    if (number === undefined) throw new Error('a lot stands in a slot that is not among the slots');
    return number;
  }

  /** The arrangement as it is now. */
  currentArrangement(): Arrangement {
    const arrangement = new Int32Array(this.slots.length).fill(-1);
    for (const [lot, slots] of this.currentSlots.entries()) for (const slot of slots) arrangement[slot] = lot;
    return arrangement;
  }

  /** The slot so many rows and columns further on the same rack; undefined beyond its edge. */
  cell({ rackId, row, column }: PlanSlot, down: number, across: number): number | undefined {
    return this.#cells.get(cellKey(rackId, row + down, column + across));
  }

  slot(number: number): PlanSlot {
    return this.slots[number] as PlanSlot;
  }

  lot(number: number): PlanLot {
    return this.lots[number] as PlanLot;
  }

  /** The limits that a lot breaks on these slots, neighbours left out, as a mask; of several slots those that any of them breaks. */
  brokenLimits(lot: number, slots: readonly number[], staying: boolean): number {
    const needs = this.needs[lot] as Needs;
    const mask = slots.reduce((sum, slot) => sum | brokenLimits(needs, this.slot(slot), staying), 0);
    const [first] = slots;
    if (first === undefined) return mask;
    const [deep, across] = extentOf(slots.map((slot) => this.slot(slot)));
    return tooLarge(needs, this.slot(first), across, deep) ? mask | LIMITS.size : mask;
  }

  /** The lots of an arrangement that would be in reach of a lot on these slots, or reach it themselves. */
  neighboursInReach(lot: number, slots: readonly number[], arrangement: Arrangement): number[] {
    const found = new Set<number>();
    for (const slot of slots) {
      for (const { slot: beside, distance } of this.#near[slot] ?? []) {
        const other = arrangement[beside] as number;
        if (other >= 0 && other !== lot && this.#areInReach(lot, other, distance)) found.add(other);
      }
    }
    return [...found];
  }

  /** Marks the slots where a lot would be in reach of a lot of an arrangement: 1; else 0. */
  slotsInReach(lot: number, arrangement: Arrangement): Uint8Array {
    const marked = new Uint8Array(this.slots.length);
    for (const [slot, other] of arrangement.entries()) {
      if (other < 0 || other === lot) continue;
      for (const { slot: beside, distance } of this.#near[slot] ?? []) {
        if (this.#areInReach(lot, other, distance)) marked[beside] = 1;
      }
    }
    return marked;
  }

  /** How many lots of its own kind stand near a slot. */
  sameKindBeside(lot: number, slot: number, arrangement: Arrangement): number {
    const kindId = this.lot(lot).kindId;
    let count = 0;
    for (const { slot: beside } of this.#near[slot] ?? []) {
      const other = arrangement[beside] as number;
      if (other >= 0 && other !== lot && this.lot(other).kindId === kindId) count++;
    }
    return count;
  }

  #areInReach(a: number, b: number, distance: number): boolean {
    return inReach(this.needs[a] as Needs, this.needs[b] as Needs, distance);
  }

  /** Lots with the same key have the same `slotsInReach`. */
  reachKey(lot: number): string {
    const { kindId, reachMm, sizeMm } = this.needs[lot] as Needs;
    return `${kindId} ${reachMm} ${sizeMm}`;
  }

  /**
   * The limits that a lot breaks on these slots of an arrangement, neighbours included, as a mask; 0 without slots. Where
   * nobody entered the size of the slots, distances count for a move but not for a lot that stays.
   */
  brokenLimitsWithNeighbours(
    lot: number,
    slots: readonly number[],
    arrangement: Arrangement,
    staying: boolean,
  ): number {
    const mask = this.brokenLimits(lot, slots, staying);
    if (staying && !this.hasKnownSize(slots)) return mask;
    return this.neighboursInReach(lot, slots, arrangement).length > 0 ? mask | LIMITS.reach : mask;
  }

  /** True when the size of all these slots is known. */
  hasKnownSize(slots: readonly number[]): boolean {
    return slots.every((slot) => this.slot(slot).widthMm !== null && this.slot(slot).depthMm !== null);
  }
}

const cellKey = (rackId: string, row: number, column: number) => `${rackId} ${row} ${column}`;

/** How many rows and columns some slots of one rack span. */
function extentOf(slots: readonly PlanSlot[]): [number, number] {
  const span = (values: readonly number[]) => Math.max(...values) - Math.min(...values) + 1;
  return [span(slots.map(({ row }) => row)), span(slots.map(({ column }) => column))];
}

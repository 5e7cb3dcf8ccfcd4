import { inReach, slotsWithin } from '../../stock/places/reach.rules.ts';
import {
  brokenAt,
  LIMITS,
  type Needs,
  needsOf,
  type PlanLot,
  type PlanSlot,
  tooLarge,
} from './slot-fit.rules.ts';

/** Lots and slots that are weighed together. Every slot that a lot takes is among the slots. */
export interface PlanProblem {
  lots: readonly PlanLot[];
  slots: readonly PlanSlot[];
}

/** Who stands in each slot: the lot's number, or -1. */
export type Arrangement = Int32Array;

/** A problem laid out by numbers: lots and slots by their place in the lists. */
export class Board {
  readonly lots: readonly PlanLot[];
  readonly slots: readonly PlanSlot[];
  readonly needs: readonly Needs[];
  /** The slots each lot takes now. */
  readonly home: readonly (readonly number[])[];
  readonly slotNumber: ReadonlyMap<string, number>;
  /** One slot of each rack that may be used. */
  readonly openRacks: readonly PlanSlot[];
  readonly #cells: ReadonlyMap<string, number>;
  readonly #near: { slot: number; distance: number }[][];

  constructor({ lots, slots }: PlanProblem) {
    this.lots = lots;
    this.slots = slots;
    this.needs = lots.map(needsOf);
    this.slotNumber = new Map(slots.map(({ id }, i) => [id, i]));
    this.#cells = new Map(slots.map((slot, i) => [cellKey(slot.rackId, slot.row, slot.column), i]));
    this.openRacks = [
      ...new Map(slots.filter(({ open }) => open).map((slot) => [slot.rackId, slot])).values(),
    ];
    this.home = lots.map(({ slotIds }) => slotIds.map((id) => this.#numberOf(id)));
    const reach = Math.max(0, ...this.needs.map(({ reachMm }) => reachMm));
    const size = Math.max(0, ...this.needs.map(({ sizeMm }) => sizeMm));
    this.#near = slotsWithin(slots, reach === 0 ? 0 : reach + size);
  }

  #numberOf(slotId: string): number {
    const number = this.slotNumber.get(slotId);
    if (number === undefined) throw new Error('a lot stands in a slot that is not among the slots');
    return number;
  }

  /** As everything stands now. */
  now(): Arrangement {
    const holders = new Int32Array(this.slots.length).fill(-1);
    for (const [lot, slots] of this.home.entries()) for (const slot of slots) holders[slot] = lot;
    return holders;
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

  /** What the slots break for a lot, its neighbours apart; over several slots whatever one of them breaks. */
  broken(lot: number, slots: readonly number[], staying: boolean): number {
    const needs = this.needs[lot] as Needs;
    const mask = slots.reduce((sum, slot) => sum | brokenAt(needs, this.slot(slot), staying), 0);
    const [first] = slots;
    if (first === undefined) return mask;
    const [deep, across] = extentOf(slots.map((slot) => this.slot(slot)));
    return tooLarge(needs, this.slot(first), across, deep) ? mask | LIMITS.size : mask;
  }

  /** The lots of an arrangement that a lot in these slots reaches, or that reach it. */
  reached(lot: number, slots: readonly number[], holders: Arrangement): number[] {
    const found = new Set<number>();
    for (const slot of slots) {
      for (const { slot: beside, distance } of this.#near[slot] ?? []) {
        const other = holders[beside] as number;
        if (other >= 0 && other !== lot && this.#fight(lot, other, distance)) found.add(other);
      }
    }
    return [...found];
  }

  /** Which slots a lot of this kind, reach and size can not have beside who stands in an arrangement. */
  spoilt(lot: number, holders: Arrangement): Uint8Array {
    const slots = new Uint8Array(this.slots.length);
    for (const [slot, other] of holders.entries()) {
      if (other < 0 || other === lot) continue;
      for (const { slot: beside, distance } of this.#near[slot] ?? []) {
        if (this.#fight(lot, other, distance)) slots[beside] = 1;
      }
    }
    return slots;
  }

  /** How many lots of its own kind stand about a slot. */
  kinBeside(lot: number, slot: number, holders: Arrangement): number {
    const kindId = this.lot(lot).kindId;
    let count = 0;
    for (const { slot: beside } of this.#near[slot] ?? []) {
      const other = holders[beside] as number;
      if (other >= 0 && other !== lot && this.lot(other).kindId === kindId) count++;
    }
    return count;
  }

  #fight(a: number, b: number, distance: number): boolean {
    return inReach(this.needs[a] as Needs, this.needs[b] as Needs, distance);
  }

  /** Lots for which the same slots are spoilt have the same key. */
  reachKey(lot: number): string {
    const { kindId, reachMm, sizeMm } = this.needs[lot] as Needs;
    return `${kindId} ${reachMm} ${sizeMm}`;
  }

  /**
   * Which limits a lot breaks where it stands in an arrangement, its neighbours included; 0 where it stands nowhere.
   * Distances that nobody measured keep a move away, but say nothing against where a lot stands.
   */
  wrongAt(lot: number, slots: readonly number[], holders: Arrangement, staying: boolean): number {
    const mask = this.broken(lot, slots, staying);
    if (staying && !this.isMeasured(slots)) return mask;
    return this.reached(lot, slots, holders).length > 0 ? mask | LIMITS.reach : mask;
  }

  /** True when the rack of these slots says how wide they are. */
  isMeasured(slots: readonly number[]): boolean {
    return slots.every((slot) => this.slot(slot).widthMm !== null && this.slot(slot).depthMm !== null);
  }
}

const cellKey = (rackId: string, row: number, column: number) => `${rackId} ${row} ${column}`;

/** How many rows and columns some slots of one rack span. */
function extentOf(slots: readonly PlanSlot[]): [number, number] {
  const span = (values: readonly number[]) => Math.max(...values) - Math.min(...values) + 1;
  return [span(slots.map(({ row }) => row)), span(slots.map(({ column }) => column))];
}

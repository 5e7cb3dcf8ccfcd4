import type { Arrangement, Board } from './board.rules.ts';
import {
  brokenAt,
  LIMITS,
  mismatch,
  type Needs,
  OTHER_WATER_PRICE,
  type PlanSlot,
} from './slot-fit.rules.ts';

type Breathe = () => Promise<void> | undefined;

interface Offset {
  row: number;
  column: number;
}

/** How often places are looked through again for better ones, once all have one. */
const SWEEPS = 3;
/** A place must be better by this to be worth another look. */
const GAIN = 1e-9;

/** True when a lot takes several slots, or would on some rack that may be used. */
export function isLarge(board: Board, lot: number): boolean {
  const own = board.home[lot] ?? [];
  if (own.length > 0) return own.length > 1;
  return board.openRacks.some((slot) => shapesOn(board, lot, slot).some((shape) => shape.length > 1));
}

/**
 * The shapes in which a lot can stand on a rack: as it stands now, or the same slots in one row or in two. One that
 * stands nowhere takes as many as its size asks for there.
 */
function shapesOn(board: Board, lot: number, at: PlanSlot): Offset[][] {
  const own = (board.home[lot] ?? []).map((slot) => board.slot(slot));
  const [first] = own;
  if (first !== undefined) {
    const [top, left] = [
      Math.min(...own.map(({ row }) => row)),
      Math.min(...own.map(({ column }) => column)),
    ];
    const same = own.map(({ row, column }) => ({ row: row - top, column: column - left }));
    return [same, block(own.length, own.length), block(own.length, Math.ceil(own.length / 2))];
  }
  const { sizeMm } = board.lot(lot);
  const count = (pitch: number | null) => (sizeMm === null || pitch === null ? 1 : Math.ceil(sizeMm / pitch));
  return [block(count(at.widthMm) * count(at.depthMm), count(at.widthMm))];
}

/** So many slots, so many beside each other. */
const block = (count: number, across: number): Offset[] =>
  Array.from({ length: count }, (_, i) => ({ row: Math.floor(i / across), column: i % across }));

interface Place {
  slots: number[];
  cost: number;
}

/**
 * Places lots of several slots beside everything that stands, those with the fewest places first, each where it suits
 * best; then each looks again whether a better place has become free. What is found is good, not proved the best. The
 * arrangement is changed; lots that find nothing stay where they are.
 * @param wrong lots that are to be placed anew
 */
export async function placeLarge(
  board: Board,
  wrong: readonly number[],
  holders: Arrangement,
  breathe: Breathe,
): Promise<void> {
  const found: { lot: number; places: Place[] }[] = [];
  for (const lot of wrong) {
    found.push({ lot, places: placesOf(board, lot) });
    await breathe();
  }
  found.sort((a, b) => a.places.length - b.places.length);
  const costs = new Map<number, number>();
  for (let sweep = 0; sweep < SWEEPS; sweep++) {
    let gained = false;
    for (const { lot, places } of found) {
      const best = bestOf(board, lot, places, holders, costs.get(lot) ?? Number.POSITIVE_INFINITY);
      await breathe();
      if (best === null) continue;
      take(lot, best.slots, holders);
      costs.set(lot, best.cost);
      gained = true;
    }
    if (!gained) return;
  }
}

function take(lot: number, slots: readonly number[], holders: Arrangement): void {
  for (const [slot, holder] of holders.entries()) if (holder === lot) holders[slot] = -1;
  for (const slot of slots) holders[slot] = lot;
}

/** Every place within the lot's limits, whoever stands there, the best first. */
function placesOf(board: Board, lot: number): Place[] {
  const needs = board.needs[lot] as Needs;
  const suits = board.slots.map((slot) => slot.open && brokenAt(needs, slot, false) === 0);
  const home = board.home[lot]?.[0];
  const water = home === undefined ? null : board.slot(home).systemId;
  const known = new Map<string, Place>();
  for (const [i, at] of board.slots.entries()) {
    if (!at.open) continue;
    for (const shape of shapesOn(board, lot, at)) {
      const slots = shape.map((cell) => board.cell(at, cell.row, cell.column));
      if (!slots.every((slot): slot is number => slot !== undefined && suits[slot] === true)) continue;
      const key = [...slots].sort((a, b) => a - b).join(' ');
      if (known.has(key) || (board.broken(lot, slots, false) & LIMITS.size) !== 0) continue;
      const mean = slots.reduce((sum, slot) => sum + mismatch(needs, board.slot(slot)), 0) / slots.length;
      const moved = water === null || water === board.slot(i).systemId ? 0 : OTHER_WATER_PRICE;
      known.set(key, { slots, cost: mean + moved });
    }
  }
  return [...known.values()].sort((a, b) => a.cost - b.cost);
}

/** The best free place out of everybody's reach that costs less than the present one. */
function bestOf(
  board: Board,
  lot: number,
  places: readonly Place[],
  holders: Arrangement,
  present: number,
): Place | null {
  for (const place of places) {
    if (place.cost >= present - GAIN) return null;
    const free = place.slots.every((slot) => holders[slot] === -1 || holders[slot] === lot);
    if (free && board.reached(lot, place.slots, holders).length === 0) return place;
  }
  return null;
}

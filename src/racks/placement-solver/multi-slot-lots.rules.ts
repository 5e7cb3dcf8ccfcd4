import type { Arrangement, IndexedProblem, Pause } from './indexed-problem.rules.ts';
import {
  brokenLimits,
  LIMITS,
  mismatchCost,
  type Needs,
  OTHER_SYSTEM_COST,
  type PlanSlot,
} from './slot-fit.rules.ts';

interface Offset {
  row: number;
  column: number;
}

/** How often each lot looks for a better candidate once all have one: bounds the time (own choice). */
const PASSES = 3;
/** A candidate must be cheaper by this to count as better: less is rounding. */
const LEAST_GAIN = 1e-9;

/** True when a lot takes several slots, or would on some rack that may be used. */
export function takesSeveralSlots(problem: IndexedProblem, lot: number): boolean {
  const own = problem.currentSlots[lot] ?? [];
  if (own.length > 0) return own.length > 1;
  return problem.slotOfEachOpenRack.some((slot) =>
    footprintsOn(problem, lot, slot).some((shape) => shape.length > 1),
  );
}

/**
 * The shapes in which a lot can stand on a rack: the shape it has now, or as many slots in one row or in two. A lot that
 * stands nowhere takes as many slots as its size needs there.
 */
function footprintsOn(problem: IndexedProblem, lot: number, at: PlanSlot): Offset[][] {
  const own = (problem.currentSlots[lot] ?? []).map((slot) => problem.slot(slot));
  const [first] = own;
  if (first !== undefined) {
    const [top, left] = [
      Math.min(...own.map(({ row }) => row)),
      Math.min(...own.map(({ column }) => column)),
    ];
    const same = own.map(({ row, column }) => ({ row: row - top, column: column - left }));
    return [same, rectangle(own.length, own.length), rectangle(own.length, Math.ceil(own.length / 2))];
  }
  const { sizeMm } = problem.lot(lot);
  const count = (pitch: number | null) => (sizeMm === null || pitch === null ? 1 : Math.ceil(sizeMm / pitch));
  return [rectangle(count(at.widthMm) * count(at.depthMm), count(at.widthMm))];
}

/** The offsets of `count` slots, `across` of them in a row. */
const rectangle = (count: number, across: number): Offset[] =>
  Array.from({ length: count }, (_, i) => ({ row: Math.floor(i / across), column: i % across }));

/** A set of slots that a lot can take, with its cost. */
interface Candidate {
  slots: number[];
  cost: number;
}

/**
 * Places lots that take several slots among the lots that stand: those with the fewest candidates first, each on its
 * cheapest free candidate; then each looks again whether a cheaper one has become free. The result is good, not proved to
 * be the best. Changes the arrangement; a lot without a free candidate stays where it is.
 * @param unsuited the lots to place
 */
export async function placeMultiSlotLots(
  problem: IndexedProblem,
  unsuited: readonly number[],
  arrangement: Arrangement,
  pause: Pause,
): Promise<void> {
  const found: { lot: number; candidates: Candidate[] }[] = [];
  for (const lot of unsuited) {
    found.push({ lot, candidates: candidatesOf(problem, lot) });
    await pause();
  }
  found.sort((a, b) => a.candidates.length - b.candidates.length);
  const costs = new Map<number, number>();
  for (let pass = 0; pass < PASSES; pass++) {
    let gained = false;
    for (const { lot, candidates } of found) {
      const best = bestCandidate(
        problem,
        lot,
        candidates,
        arrangement,
        costs.get(lot) ?? Number.POSITIVE_INFINITY,
      );
      await pause();
      if (best === null) continue;
      take(lot, best.slots, arrangement);
      costs.set(lot, best.cost);
      gained = true;
    }
    if (!gained) return;
  }
}

function take(lot: number, slots: readonly number[], arrangement: Arrangement): void {
  for (const [slot, holder] of arrangement.entries()) if (holder === lot) arrangement[slot] = -1;
  for (const slot of slots) arrangement[slot] = lot;
}

/** Every set of slots within the lot's limits, free or not, the cheapest first. */
function candidatesOf(problem: IndexedProblem, lot: number): Candidate[] {
  const needs = problem.needs[lot] as Needs;
  const suits = problem.slots.map((slot) => slot.open && brokenLimits(needs, slot, false) === 0);
  const home = problem.currentSlots[lot]?.[0];
  const homeSystem = home === undefined ? null : problem.slot(home).systemId;
  const known = new Map<string, Candidate>();
  for (const [i, at] of problem.slots.entries()) {
    if (!at.open) continue;
    for (const shape of footprintsOn(problem, lot, at)) {
      const slots = shape.map((cell) => problem.cell(at, cell.row, cell.column));
      if (!slots.every((slot): slot is number => slot !== undefined && suits[slot] === true)) continue;
      const key = [...slots].sort((a, b) => a - b).join(' ');
      if (known.has(key) || (problem.brokenLimits(lot, slots, false) & LIMITS.size) !== 0) continue;
      const mean =
        slots.reduce((sum, slot) => sum + mismatchCost(needs, problem.slot(slot)), 0) / slots.length;
      const otherSystem =
        homeSystem === null || homeSystem === problem.slot(i).systemId ? 0 : OTHER_SYSTEM_COST;
      known.set(key, { slots, cost: mean + otherSystem });
    }
  }
  return [...known.values()].sort((a, b) => a.cost - b.cost);
}

/** The cheapest free candidate out of reach of every other lot, if it costs less than the present one. */
function bestCandidate(
  problem: IndexedProblem,
  lot: number,
  candidates: readonly Candidate[],
  arrangement: Arrangement,
  present: number,
): Candidate | null {
  for (const candidate of candidates) {
    if (candidate.cost >= present - LEAST_GAIN) return null;
    const free = candidate.slots.every((slot) => arrangement[slot] === -1 || arrangement[slot] === lot);
    if (free && problem.neighboursInReach(lot, candidate.slots, arrangement).length === 0) return candidate;
  }
  return null;
}

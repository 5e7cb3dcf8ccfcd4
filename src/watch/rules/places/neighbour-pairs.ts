import { memoizeWith } from '../../../platform/memoize.ts';
import {
  ASSUMED_SIZE_MM,
  inReach,
  type SlotPosition,
  slotDistance,
} from '../../../stock/places/reach.rules.ts';
import type { LotFact, RackFact, SystemFacts } from '../../facts/types.ts';

/** Two lots of one rack of which at least one reaches the other. */
export interface Pair {
  rack: RackFact;
  /** The one that came later; of two that came together the one with the later code. */
  newcomer: LotFact;
  other: LotFact;
  gapMm: number;
  /** The longer reach of the two, and whose it is. */
  reachMm: number;
  reacher: LotFact;
  source: string;
  /** Both reach as far, so that `reacher` is only one of them. */
  alike: boolean;
  /** Both reach. */
  mutual: boolean;
  /** Day since which they stand like this. */
  sinceDay: number;
  /** The distance is reckoned from a usual pitch, or from a usual size of piece. */
  estimated: boolean;
}

/** What lots of one rack are looked up by. */
const cellKey = (row: number, column: number) => row * 4096 + column;

/** All such pairs by their newcomers, but for pieces of one origin and lots of one kind. */
export const reachingPairs = ({ lots, racks }: SystemFacts, usualPitchMm: number): Map<LotFact, Pair[]> =>
  pairsAmong(lots, racks, usualPitchMm);

const pairsAmong = memoizeWith(
  ([first]) => first,
  (all: readonly LotFact[], racks: readonly RackFact[], usualPitchMm: number): Map<LotFact, Pair[]> => {
    const byRack = Map.groupBy(all, ({ rackId }) => rackId);
    const origins = originsOf(all);
    const pairs = racks.flatMap((rack) => {
      const lots = byRack.get(rack.id) ?? [];
      if (lots.length < 2) return [];
      return pairsOn(rack, lots, usualPitchMm, (a, b) => tolerated(a, b, origins));
    });
    return Map.groupBy(pairs, ({ newcomer }) => newcomer);
  },
);

/** The lot each one came out of in the end, as far as lots here tell. */
function originsOf(lots: readonly LotFact[]): Map<string, string> {
  const byId = new Map(lots.map((lot) => [lot.id, lot]));
  const origin = (lot: LotFact): string => {
    let [at, id] = [lot, lot.id];
    for (let steps = 0; at.parentId !== null && steps < 20; steps++) {
      id = at.parentId;
      const parent = byId.get(id);
      if (parent === undefined) break;
      at = parent;
    }
    return id;
  };
  return new Map(lots.map((lot) => [lot.id, origin(lot)]));
}

/** Pieces of one colony grow together; lots of one kind are kept side by side (common practice of growers). */
function tolerated(a: LotFact, b: LotFact, origins: ReadonlyMap<string, string>): boolean {
  return (
    (a.kindIds[0] !== undefined && a.kindIds[0] === b.kindIds[0]) || origins.get(a.id) === origins.get(b.id)
  );
}

function pairsOn(
  rack: RackFact,
  lots: readonly LotFact[],
  usualPitchMm: number,
  leave: (a: LotFact, b: LotFact) => boolean,
): Pair[] {
  const at = new Map(
    lots.flatMap((lot) => lot.cells.map(({ row, column }) => [cellKey(row, column), lot] as const)),
  );
  const largest = Math.max(...lots.map(({ sizeMm }) => sizeMm ?? ASSUMED_SIZE_MM));
  const pitch = Math.min(rack.slotWidthMm ?? usualPitchMm, rack.slotDepthMm ?? usualPitchMm);
  const stood = new Map(
    lots.map((lot, order) => [lot, { lot, order, spots: spotsOf(lot, rack, usualPitchMm) }]),
  );
  const known = new Set<number>();
  const pairs: Pair[] = [];
  for (const one of stood.values()) {
    const reach = one.lot.care.reach?.mm ?? 0;
    if (reach <= 0) continue;
    for (const lot of around(one.lot, Math.ceil((reach + largest) / pitch), at)) {
      const other = stood.get(lot);
      if (other === undefined || other === one) continue;
      const key = Math.min(one.order, other.order) * lots.length + Math.max(one.order, other.order);
      if (known.has(key) || leave(one.lot, lot)) continue;
      const pair = pairOf(rack, one, other);
      if (pair !== null) pairs.push(pair);
      if (pair !== null) known.add(key);
    }
  }
  return pairs;
}

/** A lot with the middles of its slots. */
interface Stood {
  lot: LotFact;
  spots: SlotPosition[];
}

/** The lots within so many slots of one. */
function around(lot: LotFact, steps: number, at: ReadonlyMap<number, LotFact>): Set<LotFact> {
  const found = new Set<LotFact>();
  for (const { row, column } of lot.cells) {
    for (let r = Math.max(1, row - steps); r <= row + steps; r++) {
      for (let c = Math.max(1, column - steps); c <= column + steps; c++) {
        const other = at.get(cellKey(r, c));
        if (other !== undefined) found.add(other);
      }
    }
  }
  return found;
}

/** The middles of a lot's slots; a rack lies flat enough for its own distances. */
const spotsOf = (
  { cells }: LotFact,
  { slotWidthMm, slotDepthMm }: RackFact,
  usualPitchMm: number,
): SlotPosition[] =>
  cells.map(({ row, column }) => ({
    frame: '',
    x: column * (slotWidthMm ?? usualPitchMm),
    y: row * (slotDepthMm ?? usualPitchMm),
    z: 0,
  }));

const reacherOf = ({ id, care, sizeMm, kindIds }: LotFact) => ({
  kindId: kindIds[0] ?? id,
  reachMm: care.reach?.mm ?? 0,
  sizeMm: sizeMm ?? ASSUMED_SIZE_MM,
});

function pairOf(rack: RackFact, { lot: a, spots }: Stood, { lot: b, spots: others }: Stood): Pair | null {
  let distance = Number.POSITIVE_INFINITY;
  for (const spot of spots) {
    for (const other of others) distance = Math.min(distance, slotDistance(spot, other));
  }
  const [one, other] = [reacherOf(a), reacherOf(b)];
  if (!inReach(one, other, distance)) return null;
  const gap = Math.max(0, distance - (one.sizeMm + other.sizeMm) / 2);
  const [reachA, reachB] = [one.reachMm, other.reachMm];
  const reachMm = Math.max(reachA, reachB);
  const later = a.placedDay === b.placedDay ? a.code > b.code : a.placedDay > b.placedDay;
  const [newcomer, settled] = later ? [a, b] : [b, a];
  const reacher = reachA === reachB ? newcomer : reachA > reachB ? a : b;
  return {
    rack,
    newcomer,
    other: settled,
    alike: reachA === reachB,
    gapMm: gap,
    reachMm,
    reacher,
    source: reacher.care.reach?.source ?? '',
    mutual: Math.min(reachA, reachB) > gap,
    sinceDay: Math.max(a.placedDay, b.placedDay),
    estimated:
      rack.slotWidthMm === null || rack.slotDepthMm === null || a.sizeMm === null || b.sizeMm === null,
  };
}

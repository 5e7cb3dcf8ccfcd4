import { binomialInterval } from '../../science/statistics/exact-intervals.ts';

/** A lot as one closed stocktake counted it on a rack. */
export interface CountedLot {
  stocktakeId: string;
  closedAt: Date;
  rack: string;
  kind: string;
  pieces: number;
  expected: number;
}

/** How far the records were off: of so many lots, how many were right, and pieces counted less pieces recorded. */
export interface Drift {
  name: string;
  lots: number;
  right: number;
  /** The exact 95 % interval of the share that is right; null where too few were counted to say. */
  interval: { low: number; high: number } | null;
  recorded: number;
  /** Counted less recorded: negative where pieces are missing. */
  net: number;
}

/** Below so many counted lots no share is told: its interval would be wider than half of all (own choice). */
export const fewestLots = 10;

/** Sums lots by a name, the most counted first. */
export function driftBy(lots: readonly CountedLot[], nameOf: (lot: CountedLot) => string): Drift[] {
  return [...Map.groupBy(lots, nameOf)]
    .map(([name, own]) => driftOf(name, own))
    .sort((a, b) => b.lots - a.lots || a.name.localeCompare(b.name));
}

function driftOf(name: string, lots: readonly CountedLot[]): Drift {
  const right = lots.filter(({ pieces, expected }) => pieces === expected).length;
  const sum = (of: (lot: CountedLot) => number) => lots.reduce((total, lot) => total + of(lot), 0);
  return {
    name,
    lots: lots.length,
    right,
    interval: lots.length < fewestLots ? null : binomialInterval(right, lots.length),
    recorded: sum(({ expected }) => expected),
    net: sum(({ pieces, expected }) => pieces - expected),
  };
}

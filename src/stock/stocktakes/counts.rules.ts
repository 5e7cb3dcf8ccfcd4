/** One person's count of a lot on a rack, beside what the records said was there then. */
export interface TakenCount {
  pieces: number;
  expected: number;
  at: Date;
  byId: string | null;
  by: string;
}

/** Why a lot wants counting again: it differs by much, nobody else has counted it, or two counts differ. */
export type Again = 'much' | 'second' | 'disagree';

/** Where the count of a lot on a rack stands. `difference`: counted less recorded, by the newest count. */
export type CountState =
  | { state: 'open' }
  | { state: 'again'; why: Again; difference: number }
  | { state: 'right' | 'differs' | 'settled'; difference: number };

/** A difference is counted again from three pieces on, where that is more than a tenth of the lot (own choice). */
const [mostPieces, mostShare] = [3, 0.1] as const;

export const isMuch = (difference: number, expected: number): boolean =>
  Math.abs(difference) >= mostPieces && Math.abs(difference) > mostShare * expected;

/**
 * The newest count stands. It is counted again where it differs by much, until two counts say the same; where two people
 * are asked for, until two of them do. Counts are compared by their difference from the records, which may have changed
 * in between.
 */
export function countState(
  counts: readonly TakenCount[],
  { twoPeople, settled }: { twoPeople: boolean; settled: boolean },
): CountState {
  const last = counts.at(-1);
  if (last === undefined) return { state: 'open' };
  const difference = last.pieces - last.expected;
  if (settled) return { state: 'settled', difference };
  const others = counts.slice(0, -1).filter(({ byId }) => !twoPeople || byId !== last.byId);
  const agreed = others.some(({ pieces, expected }) => pieces - expected === difference);
  const isFound = last.expected === 0 && last.pieces > 0;
  const asks = twoPeople || (!isFound && isMuch(difference, last.expected));
  if (asks && !agreed) {
    const why = others.length > 0 ? 'disagree' : twoPeople ? 'second' : 'much';
    return { state: 'again', why, difference };
  }
  return { state: difference === 0 ? 'right' : 'differs', difference };
}

/** What the difference can be, as a choice; what it comes to depends on its sign. */
export const REASONS = [
  'lost',
  'sold',
  'miscounted',
  'found',
  'received',
  'moved',
  'split',
  'noted',
] as const;
export type Reason = (typeof REASONS)[number];

/** What a difference can be settled as. */
export function reasonsFor(line: {
  isNamed: boolean;
  /** By the records it stands on another rack, or on none, with so many pieces. */
  elsewhere: number | null;
  difference: number;
}): Reason[] {
  if (!line.isNamed) return ['noted'];
  if (line.elsewhere !== null && line.difference > 0)
    return line.difference < line.elsewhere ? ['split', 'moved'] : ['moved'];
  return line.difference < 0 ? ['lost', 'sold', 'miscounted'] : ['found', 'received', 'miscounted'];
}

import { type WithinSpread, withinSpread } from '../statistics/repeatability.ts';

/** The whiteness of one lot in one photograph: L*, and the reader's own standard uncertainty of it. */
export interface Whiteness {
  L: number;
  u: number;
}

/** One photograph of a rack: its time in days, and the lots that were measured in it. */
export interface Shot {
  day: number;
  lots: ReadonlyMap<string, Whiteness>;
}

/** Photographs of one visit taken together: the mean of each lot. */
export interface Visit {
  /** The time of its last photograph, days. */
  day: number;
  lots: ReadonlyMap<string, Whiteness>;
}

/** Photographs that follow each other within so many days are of one visit (own choice: half an hour). */
const ONE_VISIT = 1 / 48;

/** The photographs of each visit, by time. */
export function visitShots(shots: readonly Shot[]): Shot[][] {
  const visits: Shot[][] = [];
  for (const shot of shots.toSorted((a, b) => a.day - b.day)) {
    const last = visits.at(-1);
    if (last !== undefined && shot.day - (last.at(-1) as Shot).day <= ONE_VISIT) last.push(shot);
    else visits.push([shot]);
  }
  return visits;
}

const mean = (values: readonly number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;

function lotsOf(shots: readonly Shot[]): Map<string, Whiteness[]> {
  const lots = new Map<string, Whiteness[]>();
  for (const shot of shots)
    for (const [id, value] of shot.lots) {
      const list = lots.get(id);
      if (list === undefined) lots.set(id, [value]);
      else list.push(value);
    }
  return lots;
}

/** One value a lot for each visit. */
export const visitsOf = (shots: readonly Shot[]): Visit[] =>
  visitShots(shots).map((of) => ({
    day: (of.at(-1) as Shot).day,
    lots: new Map(
      [...lotsOf(of)].map(([id, values]) => [
        id,
        { L: mean(values.map(({ L }) => L)), u: mean(values.map(({ u }) => u)) },
      ]),
    ),
  }));

/**
 * How far two photographs of one visit differ on one lot, what all lots share taken out: the least that any two photographs
 * differ by. Null where no visit has two.
 */
export function pairSpread(shots: readonly Shot[]): WithinSpread | null {
  const things: number[][] = [];
  let shifts = 0;
  for (const of of visitShots(shots)) {
    const values = [...lotsOf(of).values()].filter((list) => list.length === of.length);
    if (of.length < 2 || values.length < 2) continue;
    const shared = of.map((_, n) => mean(values.map((list) => (list[n] as Whiteness).L)));
    shifts += of.length - 1;
    for (const list of values) things.push(list.map(({ L }, n) => L - (shared[n] as number)));
  }
  const spread = withinSpread(things);
  if (spread === null) return null;
  // One shift a photograph was fitted besides.
  const freedom = spread.freedom - shifts;
  return { sd: spread.sd * Math.sqrt(spread.freedom / freedom), freedom };
}

import { median } from 'd3-array';
import { MEDIAN_COST, ROBUST_SHARE, robustSd, type WithinSpread } from '../statistics/repeatability.ts';
import { medianPolish } from './polish.ts';
import { pairSpread, type Shot, type Visit, visitsOf } from './visits.ts';

/** How far whiteness scatters from visit to visit, L*, what the rack shares taken out. */
export interface Scatter {
  sd: number;
  /** Degrees of freedom that the rack's own photographs brought; beside them stands what is thought before any. */
  freedom: number;
  /** Of pairs of one visit alone. */
  pairs: WithinSpread | null;
}

/** What all lots of a rack share in one visit. */
export interface Shift {
  day: number;
  /** L* above the rack's own middle. */
  value: number;
  /** How many lots say so. */
  lots: number;
}

/** One lot in one visit, the rack's shift taken out as the other lots tell it. */
export interface LotVisit {
  day: number;
  /** L* as it was measured, as a mean of the visit. */
  raw: number;
  L: number;
  /** Standard uncertainty of the shift that was taken out. */
  shiftSd: number;
  /** The reader's own standard uncertainty. */
  u: number;
  /** How far the shift lies from the rack's usual. */
  shift: number;
}

/** The photographs of one rack over time. */
export interface RackSeries {
  visits: readonly Visit[];
  shifts: readonly Shift[];
  scatter: Scatter;
  lots: ReadonlyMap<string, readonly LotVisit[]>;
}

/**
 * What is thought of the scatter of a lot, and of the shift of a rack from visit to visit, before a farm's own photographs say
 * (own choices by what the reader is held to: 1.5 L* over all lights); they weigh as much as so many degrees of freedom.
 */
const BEFORE = { scatter: 1.2, shift: 1.5, freedom: 10 };
/** Whiteness is never told better than this from visit to visit, L* (own choice). */
const LEAST_SCATTER = 0.35;

const pooled = (own: number, ownFreedom: number, before: number, freedom: number) =>
  Math.sqrt((own * own * ownFreedom + before * before * freedom) / (ownFreedom + freedom));

/**
 * Follows a rack: the shift that its lots share in each visit (median polish of lots by visits), the scatter of lots about
 * their own levels (the robust spread, which the few that change do not move), and each lot less the shift.
 * A lot's own shift is told by the others alone, and believed only as far as they are many.
 */
export function followRack(shots: readonly Shot[]): RackSeries {
  const visits = visitsOf(shots);
  const ids = [...new Set(visits.flatMap((visit) => [...visit.lots.keys()]))];
  const polished = medianPolish(ids.map((id) => visits.map(({ lots }) => lots.get(id)?.L ?? null)));
  const levels = new Map(ids.map((id, i) => [id, polished.overall + (polished.rows[i] as number)]));
  const scatter = scatterOf(polished.left, pairSpread(shots));
  const shifts = visits.map(({ day, lots }, j) => ({
    ...{ day, lots: lots.size },
    value: polished.columns[j] as number,
  }));
  const shiftSd = pooled(
    finiteOr(robustSd(shifts.map(({ value }) => value)), 0),
    Math.max(0, visits.length - 1) * ROBUST_SHARE,
    BEFORE.shift,
    3,
  );
  const offs = visits.map(({ lots }) =>
    [...lots]
      .map(([id, { L }]) => ({ id, off: L - (levels.get(id) as number) }))
      .sort((a, b) => a.off - b.off),
  );
  const lots = new Map<string, LotVisit[]>(ids.map((id) => [id, []]));
  for (const [j, visit] of visits.entries()) {
    for (const [rank, { id }] of (offs[j] as Off[]).entries()) {
      const { L, u } = visit.lots.get(id) as { L: number; u: number };
      const others = visit.lots.size - 1;
      const told = others === 0 ? 0 : medianWithout(offs[j] as Off[], rank);
      const own = others === 0 ? Infinity : (MEDIAN_COST * scatter.sd ** 2) / others;
      const believed = own === Infinity ? 0 : shiftSd ** 2 / (shiftSd ** 2 + own);
      const value = { raw: L, L: L - believed * told, shiftSd: shiftSd * Math.sqrt(1 - believed) };
      lots.get(id)?.push({ day: visit.day, ...value, u, shift: believed * told });
    }
  }
  return { visits, shifts, scatter, lots };
}

type Off = { id: string; off: number };

/** The middle of sorted values without one of them. */
function medianWithout(sorted: readonly Off[], rank: number): number {
  const at = (i: number) => (sorted[i < rank ? i : i + 1] as Off).off;
  const count = sorted.length - 1;
  const half = count >> 1;
  return count % 2 === 1 ? at(half) : (at(half - 1) + at(half)) / 2;
}

const finiteOr = (value: number, otherwise: number) => (Number.isFinite(value) ? value : otherwise);

/** The scatter by what the polish leaves; levels and shifts were fitted to the same values, so that they lie too near. */
function scatterOf(left: readonly (readonly (number | null)[])[], pairs: WithinSpread | null): Scatter {
  const rows = left.map((row) => row.filter((value) => value !== null)).filter((row) => row.length > 1);
  const values = rows.flat();
  const columns = Math.max(0, ...rows.map((row) => row.length));
  const freedom = values.length - rows.length - Math.max(0, columns - 1);
  if (freedom <= 0) return { sd: Math.max(BEFORE.scatter, pairs?.sd ?? 0), freedom: 0, pairs };
  const near = median(values, Math.abs) ?? 0;
  const own = (near / 0.6745) * Math.sqrt(values.length / freedom);
  const sd = pooled(own, freedom * ROBUST_SHARE, BEFORE.scatter, BEFORE.freedom);
  return {
    sd: Math.max(LEAST_SCATTER, pairs?.sd ?? 0, sd),
    freedom: Math.round(freedom * ROBUST_SHARE),
    pairs,
  };
}

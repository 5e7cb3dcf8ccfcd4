import { median, sum } from 'd3-array';
import { ROBUST_SHARE, robustSd, type WithinSpread } from '../statistics/repeatability.ts';
import { medianPolish } from './polish.ts';
import { HUBER_COST, type LotFit, refined, scatterAgainst, type Weighed, weighed } from './refine.ts';
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
  /** How far the shift lies from the rack's usual, and the standard uncertainty of how much of it the lot answers. */
  shift: number;
  answersSd: number;
  /** How much the lot is thought to scatter against the rack's, by the reader's own uncertainty of it. */
  against: number;
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
 * Follows a rack: the shift that its lots share in each visit, the scatter of lots about their own levels (the robust spread,
 * which the few that change do not move), how each lot answers a shift, and each lot less the shift. It begins with a median
 * polish of lots by visits and is made finer by weights (`refined`). A lot's own shift is told by the others alone, and
 * believed only as far as they tell it well.
 */
export function followRack(shots: readonly Shot[]): RackSeries {
  const visits = visitsOf(shots);
  const ids = [...new Set(visits.flatMap((visit) => [...visit.lots.keys()]))];
  const table = ids.map((id) => visits.map(({ lots }) => lots.get(id)?.L ?? null));
  const polished = medianPolish(table);
  const pairs = pairSpread(shots);
  const least = Math.max(LEAST_SCATTER, pairs?.sd ?? 0);
  const thought = { sd: BEFORE.scatter, weight: BEFORE.freedom, least };
  const against = scatterAgainst(
    ids.map((id) => median(visits, ({ lots }) => lots.get(id)?.u ?? Number.NaN) ?? 1),
  );
  const { lots: fits, shifts: values, sd, freedom } = refined(table, polished, thought, against);
  const shifts = visits.map(({ day, lots }, j) => ({ day, lots: lots.size, value: values[j] as number }));
  const shiftSd = pooled(
    finiteOr(robustSd(values), 0),
    Math.max(0, visits.length - 1) * ROBUST_SHARE,
    BEFORE.shift,
    3,
  );
  const lots = new Map<string, LotVisit[]>(ids.map((id) => [id, []]));
  for (const [j, visit] of visits.entries()) {
    const all = ids.map((_, i) => weighed(table[i]?.[j] ?? null, values[j] as number, fits[i] as LotFit));
    const [weights, offs] = [sum(all, ({ weight }) => weight), sum(all, ({ weight, off }) => weight * off)];
    for (const [i, id] of ids.entries()) {
      const value = visit.lots.get(id);
      if (value === undefined) continue;
      const { weight, off } = all[i] as Weighed;
      const others = weights - weight;
      const told = others > 0 ? (offs - weight * off) / others : 0;
      const own = others > 0 ? HUBER_COST / others : Number.POSITIVE_INFINITY;
      // A shift much larger than usual is one, where the others agree.
      const likely = Math.max(shiftSd ** 2, told ** 2 - own);
      const believed = others > 0 ? likely / (likely + own) : 0;
      const { answers, answersSd } = fits[i] as LotFit;
      const shift = believed * told;
      lots.get(id)?.push({
        ...{ day: visit.day, raw: value.L, L: value.L - answers * shift, u: value.u, shift },
        ...{ shiftSd: Math.sqrt(likely * (1 - believed)), answersSd, against: against[i] as number },
      });
    }
  }
  return { visits, shifts, scatter: { sd, freedom, pairs }, lots };
}

const finiteOr = (value: number, otherwise: number) => (Number.isFinite(value) ? value : otherwise);

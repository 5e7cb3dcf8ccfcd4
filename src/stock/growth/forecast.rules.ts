import { yieldLoop } from '../../platform/yield-loop.ts';
import { daysBetween } from '../../science/numeric/time.ts';
import { normalCdf } from '../../science/statistics/normal.ts';
import { type Random, seededRandom } from '../../science/statistics/random.ts';
import { coverageFactor } from '../../science/statistics/student.ts';
import { type LotGrowth, middleSize, type Sizes, spreadOf } from './growth.rules.ts';

/** A growth rate a day with its standard error. */
export interface Rate {
  perDay: number;
  sd: number;
}

/** How the lots of a kind grow: a lot of it taken at random grows so, give or take `sd`. */
export interface KindRate extends Rate {
  lots: number;
  /** Days that the longest of its measured stretches spans: nothing is said further ahead. */
  days: number;
}

/** Lots of a kind that must have been measured before another lot of it is reckoned by them (own choice). */
export const LEAST_LOTS = 3;

/**
 * The rate of a further lot of a kind: mean and spread of the rates of its measured lots, by the prediction interval of one
 * more (Student's factor for few lots taken into the spread). Null where fewer than three lots were measured.
 */
export function kindRate(rates: readonly (Rate & { days: number })[]): KindRate | null {
  if (rates.length < LEAST_LOTS) return null;
  const n = rates.length;
  const perDay = rates.reduce((sum, rate) => sum + rate.perDay, 0) / n;
  const between = Math.sqrt(rates.reduce((sum, rate) => sum + (rate.perDay - perDay) ** 2, 0) / (n - 1));
  const factor = coverageFactor(0.9, n - 1) / coverageFactor(0.9);
  const sd = between * Math.sqrt(1 + 1 / n) * factor;
  return { perDay, sd, lots: n, days: Math.max(...rates.map(({ days }) => days)) };
}

/** A lot whose pieces are to grow to sale size. */
export interface GrowingLot {
  pieces: number;
  /** ln of its middle size when last measured, its standard error, and the spread of ln size among its pieces. */
  level: number;
  levelSd: number;
  spread: number;
  /** Days since then. */
  age: number;
  rate: Rate;
  /** ln of sale size. */
  target: number;
  /** Days after the last measurement up to which the data carry. */
  carries: number;
}

/** The least spread of ln size that is reckoned among the pieces of a lot (own choice). */
const LEAST_SPREAD = 0.05;

/** What photographs of its rack tell of a lot: how fast its length grows, and its length by its area; each null where that is not told. */
export interface ByPhotographs {
  rate: (Rate & { days: number }) | null;
  length: { at: Date; level: number; sd: number } | null;
}

/**
 * A lot on its way to sale size: by its own sizes where it was measured by hand often enough, else at the rate that
 * photographs tell, else by its kind's; null where none is known. A size by hand says how large it is; where there is none,
 * its area does, less surely. Few pieces are measured for all, so their own spread is added to the error of the middle.
 */
export function growingLot(
  {
    pieces,
    sizes,
    growth,
    saleSize,
  }: { pieces: number; sizes: readonly Sizes[]; growth: LotGrowth; saleSize: number },
  kind: KindRate | null,
  now: Date,
  seen: ByPhotographs = { rate: null, length: null },
): GrowingLot | null {
  const last = sizes.at(-1);
  const rate = growth.told ? { ...growth.growth, days: growth.days } : (seen.rate ?? kind);
  if (rate === null) return null;
  const spread = Math.max(LEAST_SPREAD, pooledSpread(sizes));
  const about = { pieces, spread, rate: { perDay: rate.perDay, sd: rate.sd }, target: Math.log(saleSize) };
  if (last === undefined) {
    if (seen.length === null) return null;
    const { at, level, sd } = seen.length;
    return { ...about, level, levelSd: sd, age: daysBetween(at, now), carries: rate.days };
  }
  const sampling = spread / Math.sqrt(last.sizes.length);
  return {
    ...about,
    level: growth.told ? growth.growth.fit.level : Math.log(middleSize(last.sizes)),
    levelSd: growth.told ? Math.hypot(growth.growth.fit.levelSd, sampling) : sampling,
    age: daysBetween(last.at, now),
    carries: rate.days,
  };
}

/** The spread of ln size among the pieces of a lot, taken over all days on which several were measured. */
function pooledSpread(days: readonly Sizes[]): number {
  const several = days.filter(({ sizes }) => sizes.length > 1);
  const freedom = several.reduce((sum, { sizes }) => sum + sizes.length - 1, 0);
  if (freedom === 0) return LEAST_SPREAD;
  const squares = several.reduce((sum, { sizes }) => sum + (sizes.length - 1) * spreadOf(sizes) ** 2, 0);
  return Math.sqrt(squares / freedom);
}

/** Pieces expected to reach sale size in a stretch of days: middle and the interval in which 90 of 100 lie. */
export interface Expected {
  middle: number;
  low: number;
  high: number;
  /** Lots left out, for the data of their growth do not reach so far. */
  beyond: number;
}

/** Season and water let all lots grow faster or slower at once: the standard error of that, as a part of a rate (own choice). */
const SHARED_SD = 0.2;

/** Draws of the whole stock (own choice). */
const DRAWS = 1000;

/**
 * How many pieces reach sale size in each stretch of days from now on. Each draw takes a rate and a level for each
 * lot, then each piece by its share; pieces that are large enough already count in no stretch.
 * @param ends last day of each stretch, days from now, rising
 */
export function expectedPieces(lots: readonly GrowingLot[], ends: readonly number[], seed = 1): Expected[] {
  return drawnPieces(lots, ends, [...stockDraws(lots, ends, seed)]);
}

/** The same, in turns with others: a farm of many measured lots is drawn for some hundred ms. */
export async function expectedPiecesInTurns(
  lots: readonly GrowingLot[],
  ends: readonly number[],
): Promise<Expected[]> {
  const breathe = yieldLoop();
  const draws: number[][] = [];
  for (const draw of stockDraws(lots, ends, 1)) {
    draws.push(draw);
    await breathe();
  }
  return drawnPieces(lots, ends, draws);
}

function* stockDraws(lots: readonly GrowingLot[], ends: readonly number[], seed: number) {
  const random = seededRandom(seed);
  const carried = lots.map((lot) => ends.map((end) => carriedTo(lot, end)));
  for (let i = 0; i < DRAWS; i++) yield oneDraw(lots, ends, carried, random);
}

const drawnPieces = (
  lots: readonly GrowingLot[],
  ends: readonly number[],
  draws: readonly (readonly number[])[],
): Expected[] =>
  ends.map((end, i) => {
    const counts = draws.map((draw) => draw[i] ?? 0).sort((a, b) => a - b);
    const at = (share: number) => counts[Math.round(share * (counts.length - 1))] ?? 0;
    const beyond = lots.filter((lot) => !carriedTo(lot, end)).length;
    return { middle: at(0.5), low: at(0.05), high: at(0.95), beyond };
  });

const carriedTo = ({ age, carries }: GrowingLot, day: number) => age + day <= carries;

/** @param carried of each lot, to which ends its data carry */
function oneDraw(
  lots: readonly GrowingLot[],
  ends: readonly number[],
  carried: readonly (readonly boolean[])[],
  random: Random,
): number[] {
  const sums = ends.map(() => 0);
  const shared = 1 + SHARED_SD * random.normal();
  for (const [at, lot] of lots.entries()) {
    const rate = lot.rate.perDay + lot.rate.sd * random.normal();
    const level = lot.level + lot.levelSd * random.normal();
    const spread = Math.max(0.01, lot.spread);
    const reached = (day: number) =>
      1 - normalCdf((lot.target - level - rate * (lot.age + shared * day)) / spread);
    let before: number | null = null;
    for (let i = 0; i < ends.length; i++) {
      if (carried[at]?.[i] !== true) continue;
      before ??= reached(0);
      const now = reached(ends[i] ?? 0);
      sums[i] = (sums[i] ?? 0) + some(lot.pieces, Math.max(0, now - before), random);
      before = Math.max(before, now);
    }
  }
  return sums;
}

/** How many of n pieces, each with this chance. */
function some(n: number, chance: number, random: Random): number {
  if (chance <= 0) return 0;
  let count = 0;
  for (let i = 0; i < n; i++) if (random.uniform() < chance) count += 1;
  return count;
}

/** What is wanted: so many pieces of a kind at sale size, in so many days. */
export interface Wanted {
  pieces: number;
  days: number;
  /** Size of a new piece and of sale, one unit. */
  cutSize: number;
  saleSize: number;
  rate: KindRate;
  /** Share of pieces alive by then, with its interval. */
  alive: { share: number; low: number };
}

/** How many pieces to cut now: as a best estimate, and to be fairly sure; or why that is not told. */
export type ToCut =
  | { told: true; middle: number; sure: number; share: number }
  | { told: false; why: string };

/**
 * How many pieces to cut now for a wanted number later: each lives and is large enough by then with its chance. Growth
 * begins after the regrowth of `rests` days; not told further ahead than growth was ever measured.
 */
export function toCutNow({ pieces, days, cutSize, saleSize, rate, alive }: Wanted, rests: number): ToCut {
  if (days - rests > rate.days)
    return {
      told: false,
      why: `Growth of this kind was measured over ${Math.round(rate.days)} days at most: it does not carry so far ahead.`,
    };
  const grown = Math.max(0, days - rests);
  const needed = Math.log(saleSize / cutSize);
  const chance = (share: number, perDay: number) =>
    share * (1 - normalCdf((needed - perDay * grown) / Math.max(0.05, rate.sd * grown)));
  const middle = chance(alive.share, rate.perDay);
  const cautious = chance(alive.low, rate.perDay - 0.84 * rate.sd);
  if (middle < 0.05)
    return {
      told: false,
      why: 'By then hardly any new piece is large enough. Ask for a later day, or cut larger pieces.',
    };
  return {
    told: true,
    middle: Math.ceil(pieces / middle),
    sure: Math.ceil(pieces / Math.max(0.05, cautious)),
    share: middle,
  };
}

import { inverse, Matrix } from 'ml-matrix';
import { inRange } from '../numeric/range.ts';
import type { Place } from './hull.ts';
import { chooseVariogram } from './light-field.ts';
import { mergeSites } from './ordinary.ts';
import { distance, type Site, semivariance, type Variogram } from './variogram.ts';

/** A place worth a reading, and the mean kriging variance over all places once it and those before it are read. */
export interface NextReading {
  /** Which of the places. */
  index: number;
  meanVariance: number;
}

/**
 * The places where further readings lower the mean kriging variance most, best first, chosen greedily: each is the best
 * next to the readings and those chosen before. The variance depends on the places alone, so it is known before anything is
 * read. Without readings, or with readings that do not differ, a variogram that reaches half across is taken.
 *
 * Sources: kriging variance as a measure for sampling, McBratney, Webster & Burgess 1981 (Computers & Geosciences 7);
 * the covariance left after one more reading is the Gaussian update (Rasmussen & Williams 2006, 2.2). From memory.
 *
 * @param readings what is known; @param places all places that count, in the same unit; @param count how many, 0 to 50
 */
export function nextReadings(
  readings: readonly Site[],
  places: readonly Place[],
  count: number,
): NextReading[] {
  inRange(count, 0, 50, 'number of places');
  const sites = mergeSites(readings);
  const variogram = chooseVariogram(sites).variogram ?? reachingHalfAcross(places);
  const left = covarianceLeft(sites, places, variogram);
  const least = 1e-9 * (variogram.nugget + variogram.sill);
  const chosen: NextReading[] = [];
  while (chosen.length < count) {
    const index = best(left, least);
    if (index === null) break;
    observe(left, index);
    chosen.push({ index, meanVariance: meanOfDiagonal(left) });
  }
  return chosen;
}

function reachingHalfAcross(places: readonly Place[]): Variogram {
  const longest = Math.max(0, ...places.flatMap((a) => places.map((b) => distance(a, b))));
  return { shape: 'exponential', nugget: 0, sill: 1, range: longest / 2 || 1 };
}

/** Covariance of the errors at all places, given readings at the sites (ordinary kriging; none: the prior). */
function covarianceLeft(
  sites: readonly Site[],
  places: readonly Place[],
  variogram: Variogram,
): Float64Array[] {
  const total = variogram.nugget + variogram.sill;
  const cov = (a: Place, b: Place) => total - semivariance(variogram, distance(a, b));
  const prior = places.map((a) => Float64Array.from(places, (b) => cov(a, b)));
  if (sites.length === 0) return prior;
  const system = new Matrix([...sites.map((a) => [...sites.map((b) => cov(a, b)), 1]), ones(sites.length)]);
  const right = new Matrix([
    ...sites.map((site) => places.map((place) => cov(site, place))),
    places.map(() => 1),
  ]);
  const weights = inverse(system).mmul(right);
  const explained = right.transpose().mmul(weights);
  return prior.map((row, i) => row.map((value, j) => value - explained.get(i, j)));
}

const ones = (n: number): number[] => [...Array.from({ length: n }, () => 1), 0];

/** The place whose reading takes most variance away in all; null when nothing is left to learn. */
function best(left: readonly Float64Array[], least: number): number | null {
  let [index, most]: [number | null, number] = [null, 0];
  for (const [i, row] of left.entries()) {
    const own = row[i] ?? 0;
    if (own <= least) continue;
    let taken = 0;
    for (const value of row) taken += value * value;
    if (taken / own > most) [index, most] = [i, taken / own];
  }
  return index;
}

function observe(left: readonly Float64Array[], index: number): void {
  const known = Float64Array.from(left[index] ?? []);
  const own = known[index] ?? 1;
  for (const [i, row] of left.entries()) {
    const share = (known[i] ?? 0) / own;
    for (let j = 0; j < row.length; j++) row[j] = (row[j] ?? 0) - share * (known[j] ?? 0);
  }
}

const meanOfDiagonal = (left: readonly Float64Array[]): number =>
  left.reduce((sum, row, i) => sum + Math.max(0, row[i] ?? 0), 0) / left.length;

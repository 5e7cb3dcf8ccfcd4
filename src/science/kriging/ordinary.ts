import { inverse, Matrix } from 'ml-matrix';
import { finite, inRange, notNegative, positive } from '../numeric/range.ts';
import { distance, type Site, semivariance, type Variogram } from './variogram.ts';

/** A predicted value and the variance of its error. */
export interface Prediction {
  value: number;
  variance: number;
}

/** How far each site is off what all others predict there. */
export interface LeftOut {
  predictions: Prediction[];
  /** Root mean square and mean of value minus prediction. */
  rmse: number;
  meanError: number;
}

export interface Kriging {
  at(place: { x: number; y: number }): Prediction;
  leaveOneOut(): LeftOut;
}

/**
 * Ordinary kriging from at least one site with a given variogram: best linear prediction with an unknown, constant
 * mean; exact at the sites. No two sites may share a place (`mergeSites`).
 *
 * Matheron 1963; Cressie 1993, 3.2; leave-one-out from one inverse by Dubrule 1983 (from memory).
 */
export function ordinaryKriging(sites: readonly Site[], variogram: Variogram): Kriging {
  checked(sites, variogram);
  const n = sites.length;
  const total = variogram.nugget + variogram.sill;
  const cov = (a: { x: number; y: number }, b: { x: number; y: number }) =>
    total - semivariance(variogram, distance(a, b));
  const system = Matrix.ones(n + 1, n + 1);
  for (const [i, a] of sites.entries()) for (const [j, b] of sites.entries()) system.set(i, j, cov(a, b));
  system.set(n, n, 0);
  const inverted = inverse(system);
  const values = Matrix.columnVector([...sites.map((site) => site.value), 0]);
  const dual = inverted.mmul(values).to1DArray();
  const rows = inverted.to2DArray();
  return {
    at: (place) => {
      const right = [...sites.map((site) => cov(site, place)), 1];
      const explained = rows.reduce((sum, row, i) => sum + (right[i] ?? 0) * dot(row, right), 0);
      return { value: dot(right, dual), variance: Math.max(0, total - explained) };
    },
    leaveOneOut: () => leaveOneOut(sites, inverted, dual),
  };
}

/** Sites that share a place become one with their mean value. */
export function mergeSites(sites: readonly Site[]): Site[] {
  const places = Map.groupBy(sites, ({ x, y }) => `${x} ${y}`);
  return [...places.values()].map((group) => {
    const { x, y } = group[0] as Site;
    return { x, y, value: group.reduce((sum, site) => sum + site.value, 0) / group.length };
  });
}

function leaveOneOut(sites: readonly Site[], inverted: Matrix, dual: number[]): LeftOut {
  inRange(sites.length, 2, Number.MAX_SAFE_INTEGER, 'number of sites');
  const errors = sites.map((_, i) => (dual[i] ?? 0) / inverted.get(i, i));
  return {
    predictions: sites.map((site, i) => ({
      value: site.value - (errors[i] ?? 0),
      variance: 1 / inverted.get(i, i),
    })),
    rmse: Math.sqrt(dot(errors, errors) / errors.length),
    meanError: errors.reduce((sum, e) => sum + e, 0) / errors.length,
  };
}

function checked(sites: readonly Site[], { nugget, sill, range }: Variogram): void {
  inRange(sites.length, 1, Number.MAX_SAFE_INTEGER, 'number of sites');
  for (const { x, y, value } of sites) {
    finite(x, 'place x');
    finite(y, 'place y');
    finite(value, 'value');
  }
  inRange(
    new Set(sites.map(({ x, y }) => `${x} ${y}`)).size,
    sites.length,
    sites.length,
    'number of distinct places',
  );
  notNegative(nugget, 'nugget');
  notNegative(sill, 'sill');
  positive(nugget + sill, 'nugget and sill together');
  positive(range, 'range');
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, v, i) => sum + v * (b[i] ?? 0), 0);
}

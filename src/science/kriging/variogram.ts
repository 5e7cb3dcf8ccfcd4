import { inRange, notNegative, positive } from '../numeric/range.ts';

/** A measured value at a place; `x` and `y` share one unit of length. */
export interface Site {
  x: number;
  y: number;
  value: number;
}

/** Mean half squared difference of the pairs of sites whose distance falls in one bin. */
export interface VariogramBin {
  pairs: number;
  distance: number;
  gamma: number;
}

export type Shape = 'spherical' | 'exponential';

/** A variogram: `nugget` at once, `sill` more in the end; `range` in the unit of the sites' places. */
export interface Variogram {
  shape: Shape;
  nugget: number;
  sill: number;
  /** Spherical: distance from which values are unrelated. Exponential c(1 - exp(-h/range)): a third of it. */
  range: number;
}

/**
 * Empirical variogram (Matheron 1962) of all pairs up to `cutoff` apart, in bins (0, width], (width, 2 width], ...;
 * empty bins are left out.
 */
export function empiricalVariogram(sites: readonly Site[], cutoff: number, width: number): VariogramBin[] {
  positive(cutoff, 'cutoff');
  inRange(positive(width, 'width of bins'), 0, cutoff, 'width of bins');
  const bins: VariogramBin[] = [];
  for (const [j, b] of sites.entries()) {
    for (const a of sites.slice(0, j)) {
      const h = distance(a, b);
      if (h > cutoff || h === 0) continue;
      const index = Math.ceil(h / width) - 1;
      bins[index] ??= { pairs: 0, distance: 0, gamma: 0 };
      bins[index].pairs += 1;
      bins[index].distance += h;
      bins[index].gamma += (a.value - b.value) ** 2 / 2;
    }
  }
  return bins
    .filter((bin) => bin !== undefined)
    .map(({ pairs, distance: sum, gamma }) => ({ pairs, distance: sum / pairs, gamma: gamma / pairs }));
}

/** Semivariance of two sites `h` apart; 0 at h = 0. */
export function semivariance({ shape, nugget, sill, range }: Variogram, h: number): number {
  if (notNegative(h, 'distance') === 0) return 0;
  return nugget + sill * growth(shape, h / range);
}

/** Steps by which the range is searched, and how often the search is narrowed. */
const TRIALS = 24;
const ROUNDS = 4;

/**
 * The variogram of one shape that fits the bins best, weighted by pairs/distance^2 (Cressie 1985 in the form usual in
 * geostatistical software): nugget and sill by least squares, kept at 0 or above, for each range tried between half the
 * shortest and three times the longest distance. Needs at least 3 bins.
 */
export function fitVariogram(bins: readonly VariogramBin[], shape: Shape): Variogram & { misfit: number } {
  inRange(bins.length, 3, Number.MAX_SAFE_INTEGER, 'number of bins');
  const distances = bins.map((bin) => positive(bin.distance, 'distance of a bin'));
  let [low, high] = [Math.min(...distances) / 2, 3 * Math.max(...distances)];
  let best = fitAt(bins, shape, low);
  for (let round = 0; round < ROUNDS; round++) {
    const ratio = (high / low) ** (1 / TRIALS);
    for (let i = 0; i <= TRIALS; i++) {
      const fit = fitAt(bins, shape, low * ratio ** i);
      if (fit.misfit < best.misfit) best = fit;
    }
    [low, high] = [best.range / ratio, best.range * ratio];
  }
  return best;
}

export function distance(a: { x: number; y: number }, b: { x: number; y: number }): number {
  return Math.hypot(a.x - b.x, a.y - b.y);
}

function growth(shape: Shape, t: number): number {
  if (shape === 'exponential') return -Math.expm1(-t);
  return t >= 1 ? 1 : 1.5 * t - 0.5 * t ** 3;
}

/** Weighted least squares of gamma = nugget + sill g(h/range) for one range, each at 0 or above. */
function fitAt(bins: readonly VariogramBin[], shape: Shape, range: number): Variogram & { misfit: number } {
  const rows = bins.map(({ pairs, distance: h, gamma }) => ({
    w: pairs / (h * h),
    g: growth(shape, h / range),
    gamma,
  }));
  const sum = (f: (row: (typeof rows)[number]) => number) =>
    rows.reduce((total, row) => total + row.w * f(row), 0);
  const [w, g, gg] = [sum(() => 1), sum((r) => r.g), sum((r) => r.g * r.g)];
  const [y, gy] = [sum((r) => r.gamma), sum((r) => r.g * r.gamma)];
  const det = w * gg - g * g;
  let nugget = det > 0 ? (gg * y - g * gy) / det : y / w;
  let sill = det > 0 ? (w * gy - g * y) / det : 0;
  if (nugget < 0) [nugget, sill] = [0, gy / gg];
  if (sill < 0) [nugget, sill] = [y / w, 0];
  const misfit = sum((r) => (r.gamma - nugget - sill * r.g) ** 2);
  return { shape, nugget, sill, range, misfit };
}

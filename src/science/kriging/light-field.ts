import { max, variance } from 'd3-array';
import { finite, notNegative, positive } from '../numeric/range.ts';
import { hullOf, isWithinHull, type Place } from './hull.ts';
import { mergeSites, ordinaryKriging } from './ordinary.ts';
import { distance, empiricalVariogram, fitVariogram, type Site, type Variogram } from './variogram.ts';

/** Light at one slot. */
export interface SlotLight {
  /** In the survey's unit (umol/(m2 s)), never below 0. */
  value: number;
  /** Standard error; null where one reading is all there is. */
  sd: number | null;
  basis: 'measured' | 'between readings' | 'outside the readings';
}

export interface LightField {
  at(place: { x: number; y: number }): SlotLight;
  /** The variogram used, and whether the readings fix it or it had to be assumed; null for a single reading. */
  variogram: Variogram | null;
  basis: 'fitted' | 'assumed';
  /** Root mean square error when each reading is predicted from the others; null with fewer than 3. */
  leaveOneOut: { rmse: number; meanError: number } | null;
}

/** With fewer readings the variogram is assumed: they cannot fix three numbers. */
const FEWEST_TO_FIT = 10;
const BINS = 8;
/** Readings that spread by less than this part of the largest (or not at all) are taken as equal. */
const EVEN = 1e-6;
const SMALLEST_VARIANCE = 1e-12;

/**
 * Light on all slots of a rack from readings at some of them, by ordinary kriging, with its standard error. Places in
 * any unit of length (slot columns and rows, or mm); readings at one place are averaged.
 *
 * With 10 or more readings the variogram (spherical or exponential, whichever fits better) is fitted up to 2/3 of the
 * longest distance; with fewer it is taken as exponential with the readings' own variance and half the longest distance
 * as its reach, and `basis` says so. One reading gives its value everywhere, without an error. Readings on one line are
 * no obstacle. Places outside the convex hull of the readings are marked: there the light is extrapolated.
 *
 * @param relativeSd relative standard uncertainty of the meter's single reading (0.03 when left out); the error is
 * never smaller
 */
export function lightField(readings: readonly Site[], relativeSd = 0.03): LightField {
  notNegative(relativeSd, 'relative uncertainty of the meter');
  for (const { x, y, value } of readings) {
    finite(x, 'place x');
    finite(y, 'place y');
    notNegative(value, 'light reading');
  }
  positive(readings.length, 'number of readings');
  const sites = mergeSites(readings);
  const around = hullOf(sites);
  const { variogram, basis } = chooseVariogram(sites);
  const error = (value: number, spread: number) => Math.hypot(spread, relativeSd * value);
  if (!variogram) {
    const value = sites.reduce((sum, site) => sum + site.value, 0) / sites.length;
    const alone = sites.length === 1;
    const at = (place: { x: number; y: number }) => ({
      value,
      sd: alone && distance(place, sites[0] as Site) > 0 ? null : error(value, 0),
      basis: basisAt(place, sites, around),
    });
    return { at, variogram, basis, leaveOneOut: null };
  }
  const kriging = ordinaryKriging(sites, variogram);
  return {
    at: (place) => {
      const predicted = kriging.at(place);
      const value = Math.max(0, predicted.value);
      return { value, sd: error(value, Math.sqrt(predicted.variance)), basis: basisAt(place, sites, around) };
    },
    variogram,
    basis,
    leaveOneOut: sites.length < 3 ? null : kriging.leaveOneOut(),
  };
}

/** The variogram that readings fix, or the one that is assumed where they cannot; null where they do not differ. */
export function chooseVariogram(sites: readonly Site[]): {
  variogram: Variogram | null;
  basis: LightField['basis'];
} {
  const spread = variance(sites, (site) => site.value) ?? 0;
  const even = EVEN * (max(sites, (site) => site.value) ?? 0);
  if (sites.length < 2 || spread <= Math.max(even ** 2, SMALLEST_VARIANCE))
    return { variogram: null, basis: 'assumed' };
  const longest = max(sites, (a) => max(sites, (b) => distance(a, b)) ?? 0) ?? 0;
  if (sites.length >= FEWEST_TO_FIT) {
    const cutoff = (2 * longest) / 3;
    const bins = empiricalVariogram(sites, cutoff, cutoff / BINS);
    const fit = bins.length >= 3 ? betterFit(bins) : null;
    if (fit && fit.nugget + fit.sill > EVEN * spread) return { variogram: fit, basis: 'fitted' };
  }
  const assumed: Variogram = { shape: 'exponential', nugget: 0, sill: spread, range: longest / 2 };
  return { variogram: assumed, basis: 'assumed' };
}

function betterFit(bins: Parameters<typeof fitVariogram>[0]): Variogram {
  const fits = [fitVariogram(bins, 'spherical'), fitVariogram(bins, 'exponential')] as const;
  const { shape, nugget, sill, range } = fits[0].misfit <= fits[1].misfit ? fits[0] : fits[1];
  return { shape, nugget, sill, range };
}

function basisAt(place: Place, sites: readonly Site[], around: readonly Place[]): SlotLight['basis'] {
  if (sites.some((site) => distance(site, place) === 0)) return 'measured';
  return isWithinHull(place, around) ? 'between readings' : 'outside the readings';
}

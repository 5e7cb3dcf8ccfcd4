import { inRange } from './numeric/range.ts';

/** Water in which the share of un-ionised ammonia is sought. */
export interface AmmoniaWater {
  readonly ph: number;
  /** Scale of that pH: NBS for a probe set with ordinary buffers, total otherwise. In seawater they differ by 0.13. */
  readonly phScale: 'total' | 'NBS';
  /** Practical salinity, 0 to 40. */
  readonly salinity: number;
  /** 0 to 40 degC. */
  readonly temperatureDegC: number;
}

/**
 * The share (0 to 1) of total ammonia that is un-ionised NH3, the poisonous part.
 *
 * @param water pH 5 to 10; at pH 8.2, salinity 35 and 25 degC about 8 % on the total scale, 7 % on the NBS scale
 * @throws RangeError outside the stated ranges
 * Error: 0.5 % of the share for a total-scale pH; about 10 % between models for an NBS one, and 0.1 in pH is 25 %.
 * Sources: total scale Clegg & Whitfield 1995, Geochim. Cosmochim. Acta 59, 2403, eq. 18; NBS scale US EPA 440/5-88-004
 * (1989), at 1 atm.
 */
export function unionisedAmmoniaShare(water: AmmoniaWater): number {
  inRange(water.ph, 5, 10, 'pH');
  inRange(water.salinity, 0, 40, 'practical salinity');
  inRange(water.temperatureDegC, 0, 40, 'temperature', 'degC');
  const pk = water.phScale === 'total' ? pkTotal : pkNbs;
  return 1 / (1 + 10 ** (pk(water.salinity, water.temperatureDegC) - water.ph));
}

/** pK of ammonium, total scale, per kilogram of seawater. Clegg & Whitfield 1995. */
export function pkTotal(salinity: number, temperatureDegC: number): number {
  const s = salinity;
  const t = temperatureDegC + 273.15;
  const root = Math.sqrt(t);
  const pure = 9.244605 - 2729.33 * (1 / 298.15 - 1 / t);
  const bySalt =
    (0.04203362 - 11.24742 / t) * s ** 0.25 +
    (-13.6416 + 1.176949 * root - 0.02860785 * t + 545.4834 / t) * s ** 0.5 +
    (-0.1462507 + 0.0090226468 * root - 0.0001471361 * t + 10.5425 / t) * s ** 1.5 +
    (0.004669309 - 0.0001691742 * root - 0.5677934 / t) * s ** 2 +
    (-2.354039e-5 + 0.009698623 / t) * s ** 2.5;
  return pure + bySalt - Math.log10(1 - 0.001005 * s);
}

/** Effective pK of ammonium for a pH on the NBS scale, at 1 atm. US EPA 1989. */
export function pkNbs(salinity: number, temperatureDegC: number): number {
  const ionicStrength = (19.9273 * salinity) / (1000 - 1.005109 * salinity);
  const t = temperatureDegC + 273.15;
  return 9.245 + 0.116 * ionicStrength + 0.0324 * (298 - t) + 0.0415 / t;
}

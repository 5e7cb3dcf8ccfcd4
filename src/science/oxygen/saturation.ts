import { inRange } from '../numeric/range.ts';
import { densityKgPerM3 } from '../seawater/density.ts';

const A = [5.80871, 3.20291, 4.17887, 5.10006, -9.86643e-2, 3.80369] as const;
const B = [-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3] as const;
const C0 = -2.75915e-7;

/** Milligrams of O2 in a micromole. */
export const MG_PER_UMOL_OXYGEN = 0.0319988;

/**
 * Oxygen in seawater at rest with moist air of 1 atm, umol/kg.
 *
 * @param salinity practical salinity, 0 to 42
 * @param temperatureDegC 0 to 40 degC
 * Error: 0.3 % within the range of the fit (from memory); high ground has less, in proportion to its air pressure.
 * Source: Garcia & Gordon 1992, Limnology and Oceanography 37, 1307, the combined fit in umol/kg.
 */
export function oxygenSaturationUmolKg(salinity: number, temperatureDegC: number): number {
  inRange(salinity, 0, 42, 'practical salinity');
  inRange(temperatureDegC, 0, 40, 'temperature', 'degC');
  const scaled = Math.log((298.15 - temperatureDegC) / (273.15 + temperatureDegC));
  return Math.exp(polynomial(A, scaled) + salinity * polynomial(B, scaled) + C0 * salinity * salinity);
}

/** The same in mg/L, with the density of EOS-80; ranges and source as {@link oxygenSaturationUmolKg}. */
export function oxygenSaturationMgPerL(salinity: number, temperatureDegC: number): number {
  const kgPerL = densityKgPerM3(salinity, temperatureDegC) / 1000;
  return oxygenSaturationUmolKg(salinity, temperatureDegC) * kgPerL * MG_PER_UMOL_OXYGEN;
}

const polynomial = (coefficients: readonly number[], x: number) =>
  coefficients.reduceRight((sum, coefficient) => sum * x + coefficient, 0);

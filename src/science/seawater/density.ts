import { inRange } from '../numeric/range.ts';
import { ipts68 } from './temperature-scale.ts';

/**
 * Density of seawater at the surface by EOS-80, in kg/m3.
 *
 * @param salinity practical salinity, 0 to 42
 * @param temperatureDegC ITS-90, -2 to 40 degC
 * @returns density; standard error of the equation 0.0036 kg/m3; within 0.006 kg/m3 of TEOS-10
 * @throws RangeError outside these ranges
 * Source: Millero & Poisson 1981 in UNESCO Technical Papers in Marine Science 44 (1983), p.17-19.
 */
export function densityKgPerM3(salinity: number, temperatureDegC: number): number {
  inRange(salinity, 0, 42, 'practical salinity');
  inRange(temperatureDegC, -2, 40, 'temperature', 'degC');
  const t = ipts68(temperatureDegC);
  const a = 0.824493 + t * (-4.0899e-3 + t * (7.6438e-5 + t * (-8.2467e-7 + t * 5.3875e-9)));
  const b = -5.72466e-3 + t * (1.0227e-4 - t * 1.6546e-6);
  return pureWater(t) + salinity * (a + b * Math.sqrt(salinity) + 4.8314e-4 * salinity);
}

/** Density of pure water at -2 to 40 degC (ITS-90), in kg/m3; the same equation at salinity 0. */
export function pureWaterDensityKgPerM3(temperatureDegC: number): number {
  return densityKgPerM3(0, temperatureDegC);
}

function pureWater(t: number): number {
  const cubic = 1.001685e-4 + t * (-1.120083e-6 + t * 6.536332e-9);
  return 999.842594 + t * (6.793952e-2 + t * (-9.09529e-3 + t * cubic));
}

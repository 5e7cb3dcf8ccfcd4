import { inRange, isWithin } from '../range.ts';
import { solveMonotone } from '../root.ts';

/** The sodium line, for which refractometers are made. */
const SODIUM_NM = 589.3;

/**
 * Refractive index of seawater at the sodium line.
 *
 * @param salinity 0 to 42 (fitted to 35)
 * @param temperatureDegC 0 to 35 (fitted to 30)
 * @returns index; error 1.5e-5 in the fitted range, that is 0.08 in salinity
 * Source: Quan & Fry 1995, Applied Optics 34, 3477.
 */
export function refractiveIndex(salinity: number, temperatureDegC: number): number {
  inRange(salinity, 0, 42, 'salinity');
  const t = inRange(temperatureDegC, 0, 35, 'temperature', 'degC');
  const bySalt = (1.779e-4 - 1.05e-6 * t + 1.6e-8 * t * t) * salinity;
  const byColour = (15.868 + 0.01155 * salinity - 0.00423 * t) / SODIUM_NM;
  return 1.31405 + bySalt - 2.02e-6 * t * t + byColour - 4382 / SODIUM_NM ** 2 + 1.1455e6 / SODIUM_NM ** 3;
}

/** A salinity from a refractometer. */
export interface RefractometerSalinity {
  salinity: number;
  /** True above salinity 35 or 30 degC, beyond what the index was fitted to. */
  extrapolated: boolean;
}

/**
 * Salinity from a refractometer with a seawater scale and no temperature compensation of its own.
 *
 * @param reading salinity as shown, 0 to 42
 * @param scaleDegC temperature the scale is made for (mostly 20), 0 to 35
 * @param sampleDegC temperature of the sample on the prism, 0 to 35
 * @param zeroedDegC temperature at which pure water was set to zero; the sample's, if it was done just before
 * @throws RangeError when the index belongs to no salinity from 0 to 42
 * Error: that of the index, 0.1 in salinity; the scale line itself is worth about 1.
 * Source: Quan & Fry 1995, Applied Optics 34, 3477.
 */
export function refractometerSalinity(
  reading: number,
  scaleDegC: number,
  sampleDegC: number,
  zeroedDegC: number = sampleDegC,
): RefractometerSalinity {
  const shown = refractiveIndex(reading, scaleDegC) - refractiveIndex(0, scaleDegC);
  const index = shown + refractiveIndex(0, zeroedDegC);
  inRange(
    index,
    refractiveIndex(0, sampleDegC),
    refractiveIndex(42, sampleDegC),
    'refractive index of the sample',
  );
  const salinity = solveMonotone((s) => refractiveIndex(s, sampleDegC), index, 0, 42);
  return { salinity, extrapolated: !isWithin(salinity, 0, 35) || !isWithin(sampleDegC, 0, 30) };
}

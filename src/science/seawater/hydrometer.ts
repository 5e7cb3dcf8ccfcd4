import { inRange } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';
import { densityKgPerM3, pureWaterDensityKgPerM3 } from './density.ts';
import type { GravityBase } from './specific-gravity.ts';

/** Cubic expansion of a glass hydrometer per degC, by convention. Source: ISO 1768:1975. */
export const GLASS_EXPANSION_PER_DEGC = 25e-6;

/**
 * Practical salinity from what a floating hydrometer shows in a sample that is not at the temperature the
 * scale was made for. A warm sample is thinner and the glass a little larger: the reading is low, the correction upwards.
 *
 * @param reading specific gravity as shown
 * @param scale what the scale is made for: sample and water temperature, usually printed on it
 * @param sampleDegC temperature of the sample while reading, 0 to 40
 * @param expansionPerDegC cubic expansion of the instrument, 0 to 0.001; that of glass if left out (a plastic
 * swing arm follows no such law)
 * @returns salinity 0 to 42; reading error of 0.001 in gravity is 1.3 in salinity
 * @throws RangeError when the corrected density belongs to no salinity in that range
 * Source: buoyancy; EOS-80; ISO 1768:1975 for glass.
 */
export function hydrometerSalinity(
  reading: number,
  scale: GravityBase,
  sampleDegC: number,
  expansionPerDegC = GLASS_EXPANSION_PER_DEGC,
): number {
  inRange(reading, 0.99, 1.05, 'specific gravity shown');
  inRange(sampleDegC, 0, 40, 'sample temperature', 'degC');
  inRange(expansionPerDegC, 0, 0.001, 'expansion of the hydrometer', '1/degC');
  const grown = 1 + expansionPerDegC * (sampleDegC - scale.sampleDegC);
  const density = (reading * pureWaterDensityKgPerM3(scale.waterDegC)) / grown;
  inRange(
    density,
    densityKgPerM3(0, sampleDegC),
    densityKgPerM3(42, sampleDegC),
    'density of the sample',
    'kg/m3',
  );
  return solveMonotone((salinity) => densityKgPerM3(salinity, sampleDegC), density, 0, 42);
}

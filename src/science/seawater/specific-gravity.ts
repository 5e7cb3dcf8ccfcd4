import { solveMonotone } from '../numeric/root.ts';
import { densityKgPerM3, pureWaterDensityKgPerM3 } from './density.ts';

/**
 * What a specific gravity is relative to: the sample at one temperature over pure water at another, both degC
 * (ITS-90). Without it a specific gravity is not a salinity: 1.0264 is salinity 35 at 25/25 and about 39 at 25/4.
 */
export interface GravityBase {
  readonly sampleDegC: number;
  readonly waterDegC: number;
}

/**
 * Specific gravity (no unit) of seawater of practical salinity 0 to 42, sample and water at -2 to 40 degC.
 * Error 4e-6, that of EOS-80 (see {@link densityKgPerM3}).
 */
export function specificGravity(salinity: number, base: GravityBase): number {
  return densityKgPerM3(salinity, base.sampleDegC) / pureWaterDensityKgPerM3(base.waterDegC);
}

/**
 * Practical salinity of seawater with this specific gravity: the inverse of {@link specificGravity}.
 *
 * @throws RangeError when the gravity belongs to no salinity from 0 to 42 at that base
 */
export function salinityFromSpecificGravity(gravity: number, base: GravityBase): number {
  const [lowest, highest] = [specificGravity(0, base), specificGravity(42, base)];
  if (!(gravity >= lowest && gravity <= highest)) {
    const range = `${lowest.toFixed(4)} to ${highest.toFixed(4)}`;
    throw new RangeError(
      `specific gravity ${gravity} is outside ${range} (salinity 0 to 42 at ${base.sampleDegC}/${base.waterDegC} degC)`,
    );
  }
  return solveMonotone((salinity) => specificGravity(salinity, base), gravity, 0, 42);
}

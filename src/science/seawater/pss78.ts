import { inRange } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';
import { ipts68 } from './temperature-scale.ts';

/** Conductivity of seawater of practical salinity 35 at 15 degC (IPTS-68) and 0 dbar, in mS/cm. */
export const STANDARD_CONDUCTIVITY_MS_PER_CM = 42.914;

const A = [0.008, -0.1692, 25.3851, 14.0941, -7.0261, 2.7081];
const B = [0.0005, -0.0056, -0.0066, -0.0375, 0.0636, -0.0144];
const K = 0.0162;

/** Ratio above which no seawater of the scale lies at any of its temperatures; a bracket, not a limit. */
const HIGHEST_RATIO = 1.4;

/**
 * Practical salinity (PSS-78, no unit) from conductivity at the surface.
 *
 * @param conductivityMsPerCm conductivity as it is at that temperature (not compensated), mS/cm
 * @param temperatureDegC ITS-90, -2 to 40 degC; the scale is defined to 35 and its tables run to 40
 * @returns salinity 2 to 42; error of the scale 0.003 where the instrument is exact
 * @throws RangeError outside these ranges
 * Source: UNESCO Technical Papers in Marine Science 44 (1983), p.6-12.
 */
export function salinityFromConductivity(conductivityMsPerCm: number, temperatureDegC: number): number {
  inRange(temperatureDegC, -2, 40, 'temperature', 'degC');
  inRange(conductivityMsPerCm, 0, 100, 'conductivity', 'mS/cm');
  const t68 = ipts68(temperatureDegC);
  const ratio = conductivityMsPerCm / (STANDARD_CONDUCTIVITY_MS_PER_CM * conductivityAt35(t68));
  return inRange(salinityFromRatio(ratio, t68), 2, 42, 'practical salinity');
}

/**
 * Conductivity in mS/cm at the surface, of water of practical salinity 2 to 42 at -2 to 40 degC (ITS-90):
 * the inverse of {@link salinityFromConductivity}, to 1e-10.
 */
export function conductivityFromSalinity(salinity: number, temperatureDegC: number): number {
  inRange(salinity, 2, 42, 'practical salinity');
  inRange(temperatureDegC, -2, 40, 'temperature', 'degC');
  const t68 = ipts68(temperatureDegC);
  const ratio = solveMonotone((r) => salinityFromRatio(r, t68), salinity, 0.01, HIGHEST_RATIO);
  return ratio * STANDARD_CONDUCTIVITY_MS_PER_CM * conductivityAt35(t68);
}

/**
 * Practical salinity from Rt, the ratio of a sample's conductivity to that of water of salinity 35 at the same
 * temperature (IPTS-68, degC) and pressure. No range is checked here.
 */
export function salinityFromRatio(rt: number, t68: number): number {
  const root = Math.sqrt(rt);
  return polynomial(A, root) + ((t68 - 15) / (1 + K * (t68 - 15))) * polynomial(B, root);
}

/** C(35, t, 0) / C(35, 15, 0), the polynomial r_t of PSS-78. */
function conductivityAt35(t68: number): number {
  return polynomial([0.6766097, 2.00564e-2, 1.104259e-4, -6.9698e-7, 1.0031e-9], t68);
}

function polynomial(coefficients: readonly number[], x: number): number {
  return coefficients.reduceRight((sum, coefficient) => sum * x + coefficient, 0);
}

/** Salinity, density and specific gravity of seawater, and the instruments that read them. */
export { densityKgPerM3, pureWaterDensityKgPerM3 } from './seawater/density.ts';
export { GLASS_EXPANSION_PER_DEGC, hydrometerSalinity } from './seawater/hydrometer.ts';
export {
  conductivityFromSalinity,
  STANDARD_CONDUCTIVITY_MS_PER_CM,
  salinityFromConductivity,
  salinityFromRatio,
} from './seawater/pss78.ts';
export {
  type RefractometerSalinity,
  refractiveIndex,
  refractometerSalinity,
} from './seawater/refractometer.ts';
export {
  type GravityBase,
  salinityFromSpecificGravity,
  specificGravity,
} from './seawater/specific-gravity.ts';

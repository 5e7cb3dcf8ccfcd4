/** Salinity, density and specific gravity of seawater, and the instruments that read them. */
export { densityKgPerM3, pureWaterDensityKgPerM3 } from './seawater/density.ts';
export { hydrometerSalinity } from './seawater/hydrometer.ts';

export { salinityFromSpecificGravity } from './seawater/specific-gravity.ts';

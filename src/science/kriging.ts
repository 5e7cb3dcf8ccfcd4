/** Light on a rack's slots from a survey of some of them, and the kriging behind it. */
export { hullOf, isWithinHull } from './kriging/hull.ts';
export { type LightField, lightField } from './kriging/light-field.ts';
export { nextReadings } from './kriging/next.ts';
export {
  mergeSites,
  ordinaryKriging,
} from './kriging/ordinary.ts';
export {
  empiricalVariogram,
  fitVariogram,
  type Site,
  semivariance,
  type Variogram,
} from './kriging/variogram.ts';

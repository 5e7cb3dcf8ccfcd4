/** Light on a rack's slots from a survey of some of them, and the kriging it rests on. */
export { hullOf, isWithinHull } from './kriging/hull.ts';
export { type LightField, lightField, type SlotLight } from './kriging/light-field.ts';
export { type NextReading, nextReadings } from './kriging/next.ts';
export {
  type Kriging,
  type LeftOut,
  mergeSites,
  ordinaryKriging,
  type Prediction,
} from './kriging/ordinary.ts';
export {
  empiricalVariogram,
  fitVariogram,
  type Shape,
  type Site,
  semivariance,
  type Variogram,
  type VariogramBin,
} from './kriging/variogram.ts';

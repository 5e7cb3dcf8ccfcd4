/** The carbonate system of seawater on the total pH scale. */
export { type BoronSource, boronUmolPerKg, calciumUmolPerKg } from './carbonate/composition.ts';
export { type CarbonateConstants, carbonateConstants } from './carbonate/constants.ts';
export { nbsMinusTotal, totalPhFromNbs } from './carbonate/ph-scale.ts';
export {
  carbonateOfReading,
  carbonateUncertainty,
} from './carbonate/reading.ts';
export { carbonateAtAir, roomCarbonDioxidePpm } from './carbonate/room-air.ts';
export {
  type CarbonateSystem,
  type CarbonateWater,
  carbonateFromDic,
  carbonateFromPh,
} from './carbonate/system.ts';

/** The carbonate system of seawater on the total pH scale. */
export { type BoronSource, boronUmolPerKg, calciumUmolPerKg, umolPerKg } from './carbonate/composition.ts';
export { type CarbonateConstants, CONSTANT_UNCERTAINTY, carbonateConstants } from './carbonate/constants.ts';
export { nbsMinusTotal, SCALE_UNCERTAINTY, type TotalPh, totalPhFromNbs } from './carbonate/ph-scale.ts';
export {
  type CarbonateReading,
  type CarbonateResult,
  carbonateOfReading,
  carbonateUncertainty,
  type ReadingUncertainty,
  type WithUncertainty,
} from './carbonate/reading.ts';
export {
  type CarbonateSystem,
  type CarbonateWater,
  carbonateFromDic,
  carbonateFromPh,
} from './carbonate/system.ts';

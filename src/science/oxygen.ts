/** Oxygen dissolved in seawater: what the air gives it, and how long still water lasts. */
export { MG_PER_UMOL_OXYGEN, oxygenSaturationMgPerL, oxygenSaturationUmolKg } from './oxygen/saturation.ts';
export {
  type OxygenUse,
  oxygenHours,
  oxygenTransferMPerH,
  oxygenUseMgLPerH,
  stillWaterHours,
  stockOxygenUse,
} from './oxygen/still-water.ts';

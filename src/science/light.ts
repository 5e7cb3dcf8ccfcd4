/** Light: what a place receives in a day, what a lot is accustomed to, and the way from one to the other. */
export { type AcclimationPace, type AcclimationStep, acclimationSchedule } from './light/acclimation.ts';
export { accustomedAt, accustomedLight, daysUntilAccustomed, type LightPiece } from './light/accustomed.ts';
export { attenuationPerM, depthOfFractionM, lightLeftAtDepth } from './light/attenuation.ts';
export {
  dailyLightMolM2,
  equivalentHours,
  halfSineEquivalentHours,
  lightFractionAt,
  MOL_PER_UMOL_HOUR,
  peakParUmolM2S,
  rampedSchedule,
  type SchedulePoint,
} from './light/daily-light.ts';
export {
  lightAtSetting,
  type ScaledLight,
  settingForLight,
  underwaterParUmolM2S,
} from './light/measured-light.ts';

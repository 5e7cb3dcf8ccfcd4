/** Light: what a place receives in a day, what a lot is accustomed to, and the way from one to the other. */
export { acclimationSchedule } from './light/acclimation.ts';
export { accustomedAt, accustomedLight, daysUntilAccustomed, type LightPiece } from './light/accustomed.ts';
export { lightLeftAtDepth } from './light/attenuation.ts';
export { dailyLightMolM2, MOL_PER_UMOL_HOUR } from './light/daily-light.ts';
export { underwaterParUmolM2S } from './light/measured-light.ts';

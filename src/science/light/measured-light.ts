import { inRange, isWithin } from '../range.ts';

/**
 * Light under water, umol/(m2 s), from what a sensor calibrated in air shows there. Such a sensor reads low under
 * water since more light leaves its diffuser again.
 *
 * @param shownUmolM2S what the meter shows, uncorrected, 0 to 5000
 * @param immersionFactor of that sensor model, 1 (the meter corrects by itself) to 1.6; sensors of one model
 * spread by about 2 % (2 standard deviations)
 * Source: Zibordi, Hooker, Mueller & Lazin 2004 (J. Atmos. Oceanic Technol. 21); the factor itself is the maker's.
 */
export function underwaterParUmolM2S(shownUmolM2S: number, immersionFactor: number): number {
  inRange(shownUmolM2S, 0, 5000, 'light shown', 'umol/m2/s');
  return shownUmolM2S * inRange(immersionFactor, 1, 1.6, 'immersion factor');
}

/** Light at another lamp setting than the one it was surveyed at. */
export interface ScaledLight {
  parUmolM2S: number;
  /** True when the setting is less than half or more than twice the surveyed one: measure again. */
  extrapolated: boolean;
}

/**
 * Light in umol/(m2 s) after lamps were turned from the setting of the survey to another, taken as
 * proportional. An estimate until measured again: dimmers are straight only within some percent.
 *
 * @param surveyedUmolM2S 0 to 5000
 * @param surveyedSetting above 0 to 100 percent
 * @param setting 0 to 100 percent
 * Source: none; proportional dimming is common practice.
 */
export function lightAtSetting(
  surveyedUmolM2S: number,
  surveyedSetting: number,
  setting: number,
): ScaledLight {
  inRange(surveyedUmolM2S, 0, 5000, 'light', 'umol/m2/s');
  inRange(surveyedSetting, 1, 100, 'lamp setting at the survey', '%');
  inRange(setting, 0, 100, 'lamp setting', '%');
  const ratio = setting / surveyedSetting;
  return { parUmolM2S: surveyedUmolM2S * ratio, extrapolated: !isWithin(ratio, 0.5, 2) };
}

/** The lamp setting in percent that gives the wanted light where a survey found `surveyedUmolM2S`; over 100 is refused. */
export function settingForLight(
  surveyedUmolM2S: number,
  surveyedSetting: number,
  wantedUmolM2S: number,
): number {
  inRange(surveyedUmolM2S, 1, 5000, 'light', 'umol/m2/s');
  inRange(surveyedSetting, 1, 100, 'lamp setting at the survey', '%');
  inRange(wantedUmolM2S, 0, 5000, 'wanted light', 'umol/m2/s');
  return inRange((surveyedSetting * wantedUmolM2S) / surveyedUmolM2S, 0, 100, 'lamp setting', '%');
}

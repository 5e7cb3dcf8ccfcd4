/** A setting of lamps, in force from `at` until the next one. Hours of null: as the lamp has them now. */
export interface LampSetting {
  at: Date;
  percent: number;
  litHours: number | null;
  rampHours: number | null;
}

/** Hours from first to last light, and how long each of the two ramps within them takes. */
export interface LitHours {
  litHours: number;
  rampHours: number;
}

/** Where no lamp is known: hours that most farms keep (common practice), so that a daily light can be said at all. */
export const ASSUMED_HOURS: LitHours = { litHours: 10, rampHours: 0 };

/** Hours of full light that carry as much as a day with two straight ramps: each ramp counts half (trapezium rule). */
export function fullLightHours({ litHours, rampHours }: LitHours): number {
  return litHours - rampHours;
}

/** How many times the surveyed light there is at another setting; 1 where either is not known. */
export function settingRatio(surveyed: number | null, setting: number | null): number {
  return surveyed === null || surveyed === 0 || setting === null ? 1 : setting / surveyed;
}

import { dailyLightMolM2 } from '../science/light.ts';

/** What one survey found at one slot, and the lamps' setting it was measured at (null: not noted). */
export interface SurveyedLight {
  at: Date;
  percent: number | null;
  /** umol/(m2 s) */
  par: number;
  /** Standard error of `par`. */
  error: number;
}

/** From `at` on the lamps stood at `percent`, lit for these hours (null: as the lamp has them now). */
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

/** All that is known of one slot's light; surveys and settings in order of time. */
export interface SlotHistory {
  slotId: string;
  rackId: string;
  surveys: readonly SurveyedLight[];
  settings: readonly LampSetting[];
  /** The lamp's hours as they are now; null when no lamp is known to light the rack. */
  hours: LitHours | null;
}

/** Light at a slot at one time. */
export interface LightThen {
  /** At full light, umol/(m2 s). */
  par: number;
  /** Daily light integral, mol/(m2 d). */
  dli: number;
  /** Standard error of `par`. */
  error: number;
  /** True when scaled to another lamp setting, taken from a later survey, or reckoned with assumed hours. */
  estimated: boolean;
}

/** Where no lamp is known: hours that most farms keep (common practice), so that a daily light can be said at all. */
export const ASSUMED_HOURS: LitHours = { litHours: 10, rampHours: 0 };

/** Hours of full light that carry as much as a day with two straight ramps: each ramp counts half (trapezium rule). */
export function fullLightHours({ litHours, rampHours }: LitHours): number {
  return litHours - rampHours;
}

/**
 * The light at a slot at a time: the newest survey until then (the first one before there was any), scaled from the
 * setting it was measured at to the one in force. Null when the slot was never surveyed.
 */
export function lightAt(history: SlotHistory, at: Date): LightThen | null {
  const until = <T extends { at: Date }>(rows: readonly T[]) => rows.findLast((row) => row.at <= at);
  const known = until(history.surveys);
  const survey = known ?? history.surveys[0];
  if (survey === undefined) return null;
  const setting = until(history.settings);
  const scale = settingRatio(survey.percent, setting?.percent ?? null);
  const hours = hoursOf(history, setting ?? history.settings[0]);
  const par = survey.par * scale;
  return {
    par,
    dli: dailyLightMolM2(par, fullLightHours(hours ?? ASSUMED_HOURS)),
    error: survey.error * scale,
    estimated: known === undefined || scale !== 1 || hours === null,
  };
}

/** How many times the surveyed light there is at another setting; 1 where either is not known. */
export function settingRatio(surveyed: number | null, setting: number | null): number {
  return surveyed === null || surveyed === 0 || setting === null ? 1 : setting / surveyed;
}

function hoursOf(history: SlotHistory, setting: LampSetting | undefined): LitHours | null {
  if (setting?.litHours == null || setting.rampHours == null) return history.hours;
  return { litHours: setting.litHours, rampHours: setting.rampHours };
}

import { dailyLightMolM2 } from '../../science/light.ts';
import { carried, type Stand, standAt } from '../racks/mounting.rules.ts';

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
  /** How its rack hung, in order of time, where it was ever hung otherwise; settings and hours above are the last one's. */
  stands?: readonly Stand[];
}

/** Light at a slot at one time. */
export interface LightThen {
  /** At full light, umol/(m2 s). */
  par: number;
  /** Daily light integral, mol/(m2 d). */
  dli: number;
  /** Standard error of `par`. */
  error: number;
  /** True when scaled to another setting or place of the rack, taken from a later survey, or with assumed hours. */
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
 * setting it was measured at to the one in force, and carried to where the rack hung then. Null when the slot was
 * never surveyed.
 */
export function lightAt(history: SlotHistory, at: Date): LightThen | null {
  const known = until(history.surveys, at);
  const survey = known ?? history.surveys[0];
  if (survey === undefined) return null;
  const { settings, hours: usual, carry } = standingThen(history, survey.at, at);
  const setting = until(settings, at);
  const turned = carry.sameLamps ? settingRatio(survey.percent, setting?.percent ?? null) : 1;
  const hours = hoursOf(usual, setting ?? settings[0]);
  const scale = turned * carry.deeper;
  const par = survey.par * scale;
  return {
    par,
    dli: dailyLightMolM2(par, fullLightHours(hours ?? ASSUMED_HOURS)),
    error: Math.hypot(survey.error * scale, par * carry.doubt),
    estimated: known === undefined || turned !== 1 || carry.moved || hours === null,
  };
}

/** The last of rows in order of time until a time. */
function until<T extends { at: Date }>(rows: readonly T[], at: Date): T | undefined {
  const time = at.getTime();
  let i = rows.length - 1;
  while (i >= 0 && (rows[i] as T).at.getTime() > time) i--;
  return rows[i];
}

const unmoved = { moved: false, sameLamps: true, deeper: 1, doubt: 0 };

function standingThen(history: SlotHistory, surveyedAt: Date, at: Date) {
  const { settings, hours, stands = [] } = history;
  const [then, now] = [standAt(stands, surveyedAt), standAt(stands, at)];
  if (then === undefined || now === undefined) return { settings, hours, carry: unmoved };
  const lamps = now === stands.at(-1) ? { settings, hours } : now;
  return { settings: lamps.settings, hours: lamps.hours, carry: carried(then, now) };
}

/** How many times the surveyed light there is at another setting; 1 where either is not known. */
export function settingRatio(surveyed: number | null, setting: number | null): number {
  return surveyed === null || surveyed === 0 || setting === null ? 1 : setting / surveyed;
}

function hoursOf(usual: LitHours | null, setting: LampSetting | undefined): LitHours | null {
  if (setting?.litHours == null || setting.rampHours == null) return usual;
  return { litHours: setting.litHours, rampHours: setting.rampHours };
}

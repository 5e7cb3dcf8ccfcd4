import { dailyLightMolM2 } from '../../science/light.ts';
import {
  ASSUMED_HOURS,
  fullLightHours,
  type LampSetting,
  type LitHours,
  settingRatio,
} from './lamp-settings.rules.ts';
import { type MountingEffect, mountingAt, mountingEffect, type SlotMounting } from './remounting.rules.ts';

/** What one survey found at one slot, and the lamps' setting it was measured at (null: not noted). */
export interface SurveyedLight {
  at: Date;
  percent: number | null;
  /** umol/(m2 s) */
  par: number;
  /** Standard error of `par`. */
  error: number;
  /** The meter stood in this slot; else it lies between slots that were measured. */
  measured?: boolean;
}

/** Everything known of one slot's light; surveys and settings oldest first. */
export interface SlotLightHistory {
  slotId: string;
  rackId: string;
  surveys: readonly SurveyedLight[];
  settings: readonly LampSetting[];
  /** The lamp's hours as they are now; null when no lamp is known to light the rack. */
  hours: LitHours | null;
  /**
   * How the slot was mounted, oldest first; left out when its rack was never mounted otherwise. `settings` and `hours`
   * above are those of the last mounting.
   */
  mountings?: readonly SlotMounting[];
}

/** Light at a slot at one time. */
export interface LightEstimate {
  /** At full light, umol/(m2 s). */
  par: number;
  /** Daily light integral, mol/(m2 d). */
  dli: number;
  /** Standard error of `par`. */
  error: number;
  /** True when scaled to another lamp setting or mounting, or with assumed hours. */
  estimated: boolean;
  /** False where no lamp is known: `dli` is then worked out from assumed hours: use it to compare, never show it. */
  hoursKnown: boolean;
  /** Measured in this slot itself. */
  measured: boolean;
}

/**
 * The light at a slot at a time: the newest survey until then, scaled from the lamp setting it was measured at to the
 * one in force, and corrected for the rack's mounting at that time. Null where it is not known: before the first survey,
 * and before the lamps' first known setting or hours once these are known.
 */
export function lightAt(history: SlotLightHistory, at: Date): LightEstimate | null {
  const survey = lastUntil(history.surveys, at);
  if (survey === undefined) return null;
  const { settings, hours: lampHours, effect } = mountingSince(history, survey.at, at);
  const setting = lastUntil(settings, at);
  const settingScale = effect.sameLamps ? settingRatio(survey.percent, setting?.percent ?? null) : 1;
  const isBeforeFirstSetting = setting === undefined && settings.length > 0;
  const hours = isBeforeFirstSetting ? null : hoursInForce(lampHours, setting);
  if (hours === null && history.hours !== null) return null;
  const scale = settingScale * effect.depthRatio;
  const par = survey.par * scale;
  return {
    par,
    dli: dailyLightMolM2(par, fullLightHours(hours ?? ASSUMED_HOURS)),
    error: Math.hypot(survey.error * scale, par * effect.doubt),
    estimated: settingScale !== 1 || effect.moved || hours === null,
    hoursKnown: hours !== null,
    measured: survey.measured ?? false,
  };
}

/** The last row at or before a time; rows oldest first. */
function lastUntil<T extends { at: Date }>(rows: readonly T[], at: Date): T | undefined {
  const time = at.getTime();
  let i = rows.length - 1;
  while (i >= 0 && (rows[i] as T).at.getTime() > time) i--;
  return rows[i];
}

const UNMOVED: MountingEffect = { moved: false, sameLamps: true, depthRatio: 1, doubt: 0 };

/** The lamps above the slot at a time, and what the change of mounting since the survey does to its light. */
function mountingSince(history: SlotLightHistory, surveyedAt: Date, at: Date) {
  const { settings, hours, mountings = [] } = history;
  const [surveyed, now] = [mountingAt(mountings, surveyedAt), mountingAt(mountings, at)];
  if (surveyed === undefined || now === undefined) return { settings, hours, effect: UNMOVED };
  const lamps = now === mountings.at(-1) ? { settings, hours } : now;
  return { settings: lamps.settings, hours: lamps.hours, effect: mountingEffect(surveyed, now) };
}

function hoursInForce(lampHours: LitHours | null, setting: LampSetting | undefined): LitHours | null {
  if (setting?.litHours == null || setting.rampHours == null) return lampHours;
  return { litHours: setting.litHours, rampHours: setting.rampHours };
}

import { lightLeftAtDepth } from '../../science/light.ts';
import type { LampSetting, LitHours } from './lamp-settings.rules.ts';

/** How one slot of a rack was mounted from `at` on. */
export interface SlotMounting {
  at: Date;
  /** Tank, place in it and slope, as one text: two mountings with the same text are at the same place. */
  place: string;
  lampId: string | null;
  /** Depth of the slot, mm. */
  depthMm: number;
  /** The settings of those lamps, oldest first, and their hours; null where no lamp is known. */
  settings: readonly LampSetting[];
  hours: LitHours | null;
}

/**
 * How much of the light each metre of tank water takes, beam spread included: own choice, between clear water alone
 * (about 0.2) and a small lamp close above it (over 3).
 */
export const ATTENUATION_PER_M = 1.5;
/** Part of the calculated change by depth that is in doubt (own choice): the attenuation is a guess. */
const DOUBT_OF_DEPTH = 0.5;
/** Part of the light that is in doubt under other lamps than surveyed (own choice). */
const DOUBT_OF_LAMPS = 0.3;

/** The mounting in force at a time; before the first one, the first one. Oldest first. */
export function mountingAt(mountings: readonly SlotMounting[], at: Date): SlotMounting | undefined {
  return mountings.findLast((mounting) => mounting.at <= at) ?? mountings[0];
}

/** What a change of mounting does to surveyed light. */
export interface MountingEffect {
  moved: boolean;
  sameLamps: boolean;
  /** Light at the new depth, times the light at the depth of the survey. */
  depthRatio: number;
  /** Relative standard uncertainty that the change adds. */
  doubt: number;
}

/** What the change from the mounting at the survey to another one does to the light: attenuated by depth, and less certain. */
export function mountingEffect(surveyed: SlotMounting, now: SlotMounting): MountingEffect {
  const sameLamps = surveyed.lampId === now.lampId;
  const depthRatio = depthRatioOf(surveyed.depthMm, now.depthMm);
  return {
    moved: !sameLamps || surveyed.place !== now.place || surveyed.depthMm !== now.depthMm,
    sameLamps,
    depthRatio,
    doubt: Math.hypot(DOUBT_OF_DEPTH * (1 - depthRatio), sameLamps ? 0 : DOUBT_OF_LAMPS),
  };
}

function depthRatioOf(fromMm: number, toMm: number): number {
  const left = lightLeftAtDepth(ATTENUATION_PER_M, Math.abs(toMm - fromMm) / 1000);
  return toMm >= fromMm ? left : 1 / left;
}

import { lightLeftAtDepth } from '../../science/light.ts';
import type { LampSetting, LitHours } from '../light/slot-light.rules.ts';

/** How a rack hung from `at` on, as one of its slots had it. */
export interface Stand {
  at: Date;
  /** Tank and place in it, so that two stands can be told apart. */
  place: string;
  lampId: string | null;
  /** Depth of the slot, mm. */
  depthMm: number;
  /** What those lamps were set to, in order of time, and their hours; null where no lamp is known. */
  settings: readonly LampSetting[];
  hours: LitHours | null;
}

/**
 * How much of the light each metre of tank water takes, beam spread included: own choice, between clear water alone
 * (about 0.2) and a small lamp close above it (over 3).
 */
export const ATTENUATION_PER_M = 1.5;
/** Part of the change by depth that is doubted, and of the light under other lamps than surveyed (own choice). */
const DOUBT_OF_DEPTH = 0.5;
const DOUBT_OF_LAMPS = 0.3;
/** What a slot takes where nobody entered its size. */
export const USUAL_SLOT_MM = 50;

/** Depth in mm of the slots of one row, on a rack that falls by `slopeDeg` towards the front. */
export function slotDepthMm(
  rack: { depthMm: number; slopeDeg: number; rows: number; slotDepthMm: number | null },
  row: number,
): number {
  const fall = Math.sin((rack.slopeDeg * Math.PI) / 180) * (rack.slotDepthMm ?? USUAL_SLOT_MM);
  return rack.depthMm + (row - (rack.rows + 1) / 2) * fall;
}

/** The stand in force at a time; the first one also stands for the time before it. */
export function standAt(stands: readonly Stand[], at: Date): Stand | undefined {
  return stands.findLast((stand) => stand.at <= at) ?? stands[0];
}

/** What being hung otherwise does to surveyed light. */
export interface Carried {
  moved: boolean;
  sameLamps: boolean;
  /** Times the light at the depth of the survey. */
  deeper: number;
  /** Relative standard uncertainty that the move adds. */
  doubt: number;
}

/** Light of one stand carried to another: attenuated by the difference in depth, and doubted accordingly. */
export function carried(then: Stand, now: Stand): Carried {
  const sameLamps = then.lampId === now.lampId;
  const deeper = deeperRatio(then.depthMm, now.depthMm);
  return {
    moved: !sameLamps || then.place !== now.place || then.depthMm !== now.depthMm,
    sameLamps,
    deeper,
    doubt: Math.hypot(DOUBT_OF_DEPTH * (1 - deeper), sameLamps ? 0 : DOUBT_OF_LAMPS),
  };
}

function deeperRatio(fromMm: number, toMm: number): number {
  const left = lightLeftAtDepth(ATTENUATION_PER_M, Math.abs(toMm - fromMm) / 1000);
  return toMm >= fromMm ? left : 1 / left;
}

import { acclimationSchedule, MOL_PER_UMOL_HOUR } from '../../science/light.ts';
import type { TagRecord } from '../record/record.ts';

/** A height in the buyer's tank and the PAR there, umol/(m2 s) at full light. */
export interface Height {
  name: string;
  par: number;
}

/** What the buyer says of their light: the heights they know, the brightest first, and hours of full light a day. */
export interface BuyersLight {
  heights: readonly Height[];
  hours: number;
}

/** One stretch of the plan: from this day on (0 is the day it comes), stand it where about this PAR is. */
export interface PlanStep {
  fromDay: number;
  par: number;
  /** The height that has this light, or the two it lies between, the dimmer first; else the nearest to it. */
  heights: string[];
  /**
   * This light as a part of what is there: 1 where it is right as it is (or between two heights); below 1 it is turned
   * down or shaded so far; above 1 no place is that bright.
   */
  share: number;
}

/** How to start the pieces in another tank's light, or why there is no plan. */
export type BuyerPlan =
  | { kind: 'unknown' }
  | { kind: 'as-it-is'; height: string; par: number }
  | { kind: 'steps'; up: boolean; steps: PlanStep[] }
  | { kind: 'too-bright'; ceiling: number; steps: PlanStep[] };

/** Words for people without a meter; the figures are common practice. */
export const places = [
  { value: 'dim', text: 'dim', par: 60 },
  { value: 'medium', text: 'medium', par: 120 },
  { value: 'bright', text: 'bright', par: 220 },
] as const;

/** A difference from what it is used to that calls for steps, up or down: own choice, within what a meter is off by. */
const noticeable = 1.15;
/** A place up to this much brighter than a step still counts as the step: a tenth is within a meter's error. */
const near = 1.1;

/**
 * Steps from what the pieces are accustomed to, to the buyer's light, bounded by the kind's step ratio and dwell and
 * by its ceiling. Of several heights the one is aimed at that suits the kind and asks for the least change.
 */
export function buyersPlan(record: TagRecord, { heights, hours }: BuyersLight): BuyerPlan {
  const goal = goalOf(record, heights);
  if (record.light === null || !isUsedToKnown(record) || goal === null) return { kind: 'unknown' };
  const { stepRatio, dwellDays, adaptationDays, parCeiling } = record.care;
  const ceiling = parCeiling ?? Number.POSITIVE_INFINITY;
  const perPar = hours * MOL_PER_UMOL_HOUR;
  const target = Math.min(goal.par, ceiling) * perPar;
  const ratio = target / record.light.accustomed;
  const tooBright = goal.par > ceiling;
  if (!tooBright && ratio < noticeable && ratio > 1 / noticeable)
    return { kind: 'as-it-is', height: goal.name, par: goal.par };
  const schedule = acclimationSchedule(record.light.accustomed, target, {
    maxStepRatio: stepRatio,
    dwellDays,
    timeConstantDays: adaptationDays,
  });
  const steps = schedule.map(({ day, dailyLight }) => stepAt(Math.round(day), dailyLight / perPar, heights));
  return tooBright ? { kind: 'too-bright', ceiling, steps } : { kind: 'steps', up: ratio > 1, steps };
}

/** Whether it is known what light it is used to, and how long it is lit. */
function isUsedToKnown({ light, format }: TagRecord): boolean {
  if (light === null || light.accustomed <= 0) return false;
  return format === 'evenwater-care-record/1' || (light.hours > 0 && light.spans.length > 0);
}

/** The height that suits the kind and is nearest to what the pieces are used to; the dimmest where none suits. */
function goalOf({ light, care }: TagRecord, heights: readonly Height[]): Height | null {
  if (light === null) return heights[0] ?? null;
  const most = Math.min(
    care.parHigh ?? Number.POSITIVE_INFINITY,
    care.parCeiling ?? Number.POSITIVE_INFINITY,
  );
  const suiting = heights.filter(({ par }) => par <= most && par >= (care.parLow ?? 0));
  const below = heights.filter(({ par }) => par <= most);
  const choice = suiting.length > 0 ? suiting : below;
  const far = ({ par }: Height) => Math.abs(Math.log(par / Math.max(1, light.par)));
  const byDistance = [...choice].sort((a, b) => far(a) - far(b));
  return byDistance[0] ?? [...heights].sort((a, b) => a.par - b.par)[0] ?? null;
}

function stepAt(fromDay: number, par: number, heights: readonly Height[]): PlanStep {
  const byLight = [...heights].sort((a, b) => a.par - b.par);
  const away = (height: Height) => Math.abs(Math.log(height.par / par));
  const [nearest] = [...byLight].sort((a, b) => away(a) - away(b));
  const step = { fromDay, par: Math.round(par) };
  if (nearest === undefined) return { ...step, heights: [], share: 1 };
  if (away(nearest) <= Math.log(near)) return { ...step, heights: [nearest.name], share: 1 };
  const dimmer = byLight.findLast((height) => height.par < par);
  const brighter = byLight.find((height) => height.par > par);
  if (dimmer !== undefined && brighter !== undefined)
    return { ...step, heights: [dimmer.name, brighter.name], share: 1 };
  return { ...step, heights: [nearest.name], share: par / nearest.par };
}

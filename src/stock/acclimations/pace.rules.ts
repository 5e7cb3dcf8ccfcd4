import { type Pace, USUAL_PACE } from '../light/pace.rules.ts';

/** How a lot bears a change of light; daily light in mol/(m2 d), PAR in umol/(m2 s). */
export interface Bearing {
  lotId: string;
  code: string;
  /** The daily light it is used to at the start of the plan. */
  accustomed: number;
  /** The most a step may stand above, or below, what it is then used to. */
  stepRatio: number;
  dwellDays: number;
  /** Time constant of its adaptation. */
  adaptationDays: number;
  /** Never above this PAR; null where its kind states none. */
  parCeiling: number | null;
}

/** The pace of the lot that bears least: the smallest step, the longest stay, the slowest adaptation. */
export function strictestPace(lots: readonly Pace[]): Pace {
  if (lots.length === 0) return USUAL_PACE;
  return {
    stepRatio: Math.min(...lots.map((lot) => lot.stepRatio)),
    dwellDays: Math.max(...lots.map((lot) => lot.dwellDays)),
    adaptationDays: Math.max(...lots.map((lot) => lot.adaptationDays)),
  };
}

/** What a lot is used to after `days` in constant daily light: first-order adaptation, as on its record. */
export function usedTo(accustomed: number, daily: number, days: number, adaptationDays: number): number {
  return daily + (accustomed - daily) * Math.exp(-days / adaptationDays);
}

/** Arithmetic leaves a little open where a step is compared with its bound. */
const HAIR = 1 + 1e-9;

/** True when going to `daily` keeps to the step ratio, upwards or downwards. */
export function withinStep(daily: number, accustomed: number, stepRatio: number): boolean {
  const ratio = daily / accustomed;
  return ratio <= stepRatio * HAIR && ratio >= 1 / (stepRatio * HAIR);
}

/**
 * Days in `daily` light until a step to `next` keeps to the ratio; 0 when it does already, null when it never will
 * from there.
 */
export function daysUntilBearable(
  accustomed: number,
  daily: number | null,
  next: number,
  { stepRatio, adaptationDays }: Pick<Pace, 'stepRatio' | 'adaptationDays'>,
): number | null {
  if (next <= accustomed * stepRatio * HAIR) return 0;
  const needed = next / stepRatio;
  if (daily === null || daily <= needed) return null;
  return adaptationDays * Math.log((daily - accustomed) / (daily - needed));
}

import { acclimationSchedule } from '../../science/light.ts';

/** One pace for lots that go together. */
export interface Pace {
  /** The most a step may stand above, or below, what a lot is then used to. */
  stepRatio: number;
  /** Days between two steps. */
  dwellDays: number;
  /** Time constant of its adaptation. */
  adaptationDays: number;
}

/** Where a kind states no figure of its own (common practice: 10 to 15 % every 5 to 7 days). */
export const USUAL_PACE: Pace = { stepRatio: 1.15, dwellDays: 7, adaptationDays: 10 };

/** A pace by what a kind states of it, the usual where it states nothing: one for plans and for what a move would take. */
export const paceBy = (stated: { [Figure in keyof Pace]?: Pace[Figure] | null | undefined }): Pace => ({
  stepRatio: stated.stepRatio ?? USUAL_PACE.stepRatio,
  dwellDays: stated.dwellDays ?? USUAL_PACE.dwellDays,
  adaptationDays: stated.adaptationDays ?? USUAL_PACE.adaptationDays,
});

/**
 * The fewest steps, and the days from the first to the last, to `times` the daily light that a lot is used to, where there is
 * light for each step. Real slots take as many or more. Null beyond what such a plan is reckoned for.
 */
export function leastSteps(
  times: number,
  { stepRatio, dwellDays, adaptationDays }: Pace,
): { steps: number; days: number } | null {
  if (stepRatio < 1.01 || stepRatio > 3 || times > 100 || times < 0.01) return null;
  const steps = acclimationSchedule(1, times, {
    maxStepRatio: stepRatio,
    ...{ dwellDays, timeConstantDays: adaptationDays },
  });
  return { steps: steps.length, days: steps.at(-1)?.day ?? 0 };
}

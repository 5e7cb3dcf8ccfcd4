import { inRange } from '../numeric/range.ts';
import { solveMonotone } from '../numeric/root.ts';

/** How fast a lot may be moved to other light. */
export interface AcclimationPace {
  /** The most that a step may stand above, or below, what the lot is accustomed to: 1.15 for 15 %. */
  readonly maxStepRatio: number;
  /** Days between two steps. */
  readonly dwellDays: number;
  /** Time constant of adaptation in days; left out, the lot is taken as settled at the end of each dwell. */
  readonly timeConstantDays?: number;
}

/** One step of an acclimation. */
export interface LightStep {
  /** Days after the start; the first step is on day 0. */
  day: number;
  /** Daily light from that day on, mol/m2/day. */
  dailyLight: number;
  /** What the lot is accustomed to when the step is taken, mol/m2/day. */
  accustomedBefore: number;
}

/**
 * The fewest steps from the daily light a lot is accustomed to, to another, each at most `maxStepRatio` times above
 * or below what it is then accustomed to; the steps are evened out, and the last is the target itself. Works
 * upwards and downwards. Empty when the two are equal.
 *
 * @param accustomed, target daily light, 0.01 to 432 mol/m2/day
 * @param pace ratio 1.01 to 3, dwell 0.25 to 90 days, time constant 0.1 to 365 days
 * @throws RangeError also when more than 500 steps would be needed
 * Source: none; the ratio and the dwell are the grower's (common practice 10 to 15 % every 5 to 7 days), the
 * arithmetic is the first-order adaptation of {@link accustomedLight}.
 */
export function acclimationSchedule(accustomed: number, target: number, pace: AcclimationPace): LightStep[] {
  inRange(accustomed, 0.01, 432, 'accustomed light', 'mol/m2/d');
  inRange(target, 0.01, 432, 'target light', 'mol/m2/d');
  inRange(pace.maxStepRatio, 1.01, 3, 'step ratio');
  inRange(pace.dwellDays, 0.25, 90, 'dwell', 'd');
  const lag = lagAfterDwell(pace);
  const wanted = target / accustomed;
  if (wanted === 1) return [];
  const limit = wanted > 1 ? pace.maxStepRatio : 1 / pace.maxStepRatio;
  const count = stepsNeeded(wanted, limit, lag);
  const step = evenStep(wanted, limit, count, lag);
  return Array.from({ length: count }, (_, i) => {
    const before = accustomed * settled(step, lag) ** i;
    const isLast = i === count - 1;
    return { day: i * pace.dwellDays, dailyLight: isLast ? target : before * step, accustomedBefore: before };
  });
}

/** Part of a step that the lot has not yet adapted to at the end of a dwell. */
function lagAfterDwell({ dwellDays, timeConstantDays }: AcclimationPace): number {
  if (timeConstantDays === undefined) return 0;
  return Math.exp(-dwellDays / inRange(timeConstantDays, 0.1, 365, 'time constant', 'd'));
}

/** What the accustomed light is multiplied by over one dwell at `step` times it. */
function settled(step: number, lag: number): number {
  return step - (step - 1) * lag;
}

function stepsNeeded(wanted: number, limit: number, lag: number): number {
  const more = Math.log(wanted / limit) / Math.log(settled(limit, lag));
  return inRange(Math.max(0, Math.ceil(more - 1e-9)) + 1, 1, 500, 'number of steps');
}

/** The step ratio with which `count` steps end exactly at `wanted`. */
function evenStep(wanted: number, limit: number, count: number, lag: number): number {
  const reached = (step: number) => step * settled(step, lag) ** (count - 1);
  const furthest = reached(limit);
  if (wanted > 1 ? wanted >= furthest : wanted <= furthest) return limit;
  return solveMonotone(reached, wanted, Math.min(1, limit), Math.max(1, limit));
}

import type { AcclimationFact } from '../../facts/types.ts';

/** What light of a plan may differ from it by: a survey and a slot are never quite the planned light. */
const tolerance = 1.1;
/** A step may be taken a day before it is due. */
const early = 1;

/**
 * The most daily light that an acclimation asks for now, mol/(m2 d): that of its last step or of one that is due and not
 * yet taken; what the lot came with where no step is due. Nothing new is due while it is paused.
 */
function plannedLight({ steps, fromDli, paused }: AcclimationFact, today: number): number {
  const last = steps.findLast(({ doneDay }) => doneDay !== null)?.dli ?? fromDli;
  const due = steps.filter(({ doneDay, dueDay }) => !paused && doneDay === null && dueDay <= today + early);
  return Math.max(last, ...due.map(({ dli }) => dli));
}

/** True where a daily light is what the acclimation asks for now, or less than it. */
export function isPlannedLight(acclimation: AcclimationFact, dli: number, today: number): boolean {
  return dli <= plannedLight(acclimation, today) * tolerance;
}

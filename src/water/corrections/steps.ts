import type { Work } from '../../platform/change.ts';
import { beforePlanned } from '../../platform/plans/plans.rules.ts';
import { completeStep, leaveStepOut, lockStep } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { convertDifference, type QuantityCode } from '../../science/units.ts';
import { addDose } from '../log/doses.ts';
import { addWaterChange } from '../log/water-changes.ts';
import { say } from '../quantities/quantities.ts';
import { correctionHold } from './hold.rules.ts';
import { correctionPlan, correctionSubject } from './plan.ts';
import { type CorrectionState, type CorrectionStep, dueDay, isEarly, nextStepOf } from './state.ts';
import { correctionStepTitle } from './view.ts';

/**
 * Does the next step of a correction: logs its dose or water change and marks it done, in one change. It is judged at
 * the moment it was done, with what was known then.
 * @throws Refusal 409 when it is held back (the reason in words), was done already, or is not the next one
 */
export async function doCorrectionStep(
  work: Work,
  { stepId, at, note }: { stepId: string; at: Date; note: string },
): Promise<{ correctionId: string; systemId: string; feedingId: null; what: string }> {
  const { plan: state, step } = await lockStep(work, correctionPlan, stepId, at);
  const held = whyHeld(state, step, at);
  if (held !== null)
    throw new Refusal(
      `Held back: ${held} If it is in the water already, log it as a dose or a water change.`,
      { status: 409 },
    );
  const logged = await logStep(work, state, step, at, note);
  await completeStep(work, correctionPlan, { plan: state, step }, { at, note, ...logged });
  work.record('correction.step_done', correctionSubject(state.id), {
    system: state.systemName,
    step: step.position,
    amount: `${step.amount} ${step.unit}`,
    ...logged,
  });
  work.reevaluate(state.systemId);
  const what = correctionStepTitle(state, step);
  return { correctionId: state.id, systemId: state.systemId, feedingId: null, what };
}

function whyHeld(state: CorrectionState, step: CorrectionStep, at: Date): string | null {
  const reason = beforePlanned(state, at) ?? correctionHold(nextStepOf(state, step, at))?.words ?? null;
  if (reason !== null) return reason;
  return isEarly(state, step, at) ? `It is due on ${dueDay(state, step)} at the earliest.` : null;
}

async function logStep(
  work: Work,
  state: CorrectionState,
  step: CorrectionStep,
  at: Date,
  comment: string,
): Promise<{ doseId: string } | { waterChangeId: string }> {
  const { quantity } = state;
  const about = `Step ${step.position} of ${state.steps.length} of a correction to ${say(quantity, state.target)}.`;
  const note = comment === '' ? about : `${about} ${comment}`;
  if (step.unit === 'L' && state.means === 'exchange') {
    const contents = state.basis.makeUp === null ? {} : { [quantity.code]: state.basis.makeUp };
    const exchange = { amount: step.amount, unit: 'L' as const, contents, at, note };
    const change = await addWaterChange(work, state.systemId, exchange, 'step');
    return { waterChangeId: change.id };
  }
  // Back to the farm's unit around the same middle from which the dose's operation converts it.
  const middle = (quantity.plausibleLow + quantity.plausibleHigh) / 2;
  const rise = convertDifference(
    quantity.code as QuantityCode,
    step.change,
    quantity.canonicalUnit,
    quantity.displayUnit,
    middle,
  );
  const { basis, systemId } = state;
  const [substance, quantityCode] = [basis.means, quantity.code];
  const { amount, unit } = step;
  const input = { substance, amount, unit, quantityCode, rise, at, note, reason: comment };
  const dose = await addDose(work, systemId, input, { purpose: 'step', dailyCap: capOf(state, step) });
  return { doseId: dose.id };
}

/** The most that the plan holds for the day of a step: the fast steps of an acute level together are more than the daily cap. */
function capOf({ dailyCap, steps }: CorrectionState, { dueOn }: CorrectionStep): number {
  const ofDay = steps.filter((one) => one.dueOn === dueOn);
  return Math.max(dailyCap, Math.abs(ofDay.reduce((sum, { change }) => sum + change, 0)));
}

/** Leaves the next step out, for good. @throws Refusal 409 when the correction changed meanwhile */
export async function leaveOutCorrectionStep(
  work: Work,
  { stepId, version, reason }: { stepId: string; version: number; reason: string },
): Promise<{ correctionId: string }> {
  const { plan: state, step } = await leaveStepOut(work, correctionPlan, { stepId, version, reason });
  work.record('correction.step_left_out', correctionSubject(state.id), {
    system: state.systemName,
    step: step.position,
    reason,
  });
  work.reevaluate(state.systemId);
  return { correctionId: state.id };
}

import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { convertDifference, type QuantityCode } from '../../science/units.ts';
import { addDose } from '../log/doses.ts';
import { addWaterChange } from '../log/water-changes.ts';
import { say } from '../quantities/quantities.ts';
import { holdOf } from './hold.rules.ts';
import {
  aheadOf,
  type CorrectionState,
  dueDay,
  isEarly,
  isRunning,
  openStep,
  readCorrections,
  type StepState,
} from './state.ts';
import { stepTitle } from './view.ts';

/** The correction of a step, locked, with the step. @throws Refusal 404; 409 when it no longer runs or is settled */
async function lockStep(work: Work, stepId: string): Promise<{ state: CorrectionState; step: StepState }> {
  const row = await work.tx.correctionStep.findUnique({
    where: { id: stepId },
    select: { correctionId: true },
  });
  if (row === null) throw notFound('This step');
  const state = await lock(work, row.correctionId);
  const step = state.steps.find((one) => one.id === stepId);
  if (step === undefined) throw notFound('This step');
  if (step.doneAt !== null)
    throw new Refusal('This step was already done. Open the correction again.', { status: 409 });
  if (step.leftOutAt !== null)
    throw new Refusal('This step was left out. Open the correction again.', { status: 409 });
  if (!isRunning(state))
    throw new Refusal(
      'This correction has ended. Log what is in the water already as a dose or a water change.',
      {
        status: 409,
      },
    );
  if (openStep(state)?.id !== stepId)
    throw new Refusal('An earlier step is still to be done or left out first.', { status: 409 });
  return { state, step };
}

/**
 * Does the next step of a correction: logs its dose or water change and marks it done, in one change.
 * @throws Refusal 409 when it is held back (the reason in words), was done already, or is not the next one
 */
export async function doCorrectionStep(
  work: Work,
  { stepId, at, note }: { stepId: string; at: Date; note: string },
): Promise<{ correctionId: string; systemId: string; feedingId: null; what: string }> {
  const { state, step } = await lockStep(work, stepId);
  const held = await heldAt(work, state, step, at);
  if (held !== null)
    throw new Refusal(
      `Held back: ${held} If it is in the water already, log it as a dose or a water change.`,
      {
        status: 409,
      },
    );
  const logged = await logStep(work, state, step, at, note);
  await work.tx.correctionStep.update({
    where: { id: stepId },
    data: { ...logged, doneAt: at, doneById: work.accountId, note },
  });
  await bump(work, state);
  work.record(
    'correction.step_done',
    { type: 'correction', id: state.id },
    { system: state.systemName, step: step.position, amount: `${step.amount} ${step.unit}`, ...logged },
  );
  work.reevaluate(state.systemId);
  return { correctionId: state.id, systemId: state.systemId, feedingId: null, what: stepTitle(state, step) };
}

const slackMs = 5 * minuteMs;

/** Judged at the moment it was done, with what was known then. */
async function heldAt(work: Work, state: CorrectionState, step: StepState, at: Date): Promise<string | null> {
  // Forms tell the time to the minute, and a tablet's clock may be slow.
  if (at.getTime() < state.createdAt.getTime() - slackMs)
    return 'It cannot be done before it was planned. Check the time.';
  const [then] = await readCorrections(readerOf(work.tx), { id: state.id }, at);
  const held = then === undefined ? null : (holdOf(aheadOf(then, step, at))?.words ?? null);
  if (held !== null) return held;
  return isEarly(state, step, at) ? `It is due on ${dueDay(state, step)} at the earliest.` : null;
}

async function logStep(
  work: Work,
  state: CorrectionState,
  step: StepState,
  at: Date,
  said: string,
): Promise<{ doseId: string } | { waterChangeId: string }> {
  const { quantity } = state;
  const about = `Step ${step.position} of ${state.steps.length} of a correction to ${say(quantity, state.target)}.`;
  const note = said === '' ? about : `${about} ${said}`;
  if (step.unit === 'L' && state.means === 'exchange') {
    const contents = state.basis.makeUp === null ? {} : { [quantity.code]: state.basis.makeUp };
    const exchange = { amount: step.amount, unit: 'L' as const, contents, at, note };
    const change = await addWaterChange(work, state.systemId, exchange);
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
  const dose = await addDose(work, state.systemId, {
    substance: state.basis.means,
    amount: step.amount,
    unit: step.unit,
    quantityCode: quantity.code,
    rise,
    at,
    note,
  });
  return { doseId: dose.id };
}

/** Leaves the next step out, for good. @throws Refusal without a reason; 409 when the correction changed meanwhile */
export async function leaveOutStep(
  work: Work,
  { stepId, version, reason }: { stepId: string; version: number; reason: string },
): Promise<{ correctionId: string }> {
  const { state, step } = await lockStep(work, stepId);
  sameVersion(state, version);
  await work.tx.correctionStep.update({ where: { id: stepId }, data: { leftOutAt: work.now, note: reason } });
  await bump(work, state);
  work.record(
    'correction.step_left_out',
    { type: 'correction', id: state.id },
    { system: state.systemName, step: step.position, reason },
  );
  work.reevaluate(state.systemId);
  return { correctionId: state.id };
}

/** Waits for whoever else changes this correction. @throws Refusal 404 */
export async function lock(work: Work, id: string): Promise<CorrectionState> {
  const locked = await work.tx.$queryRaw<
    { id: string }[]
  >`SELECT id FROM correction WHERE id = ${id}::uuid FOR UPDATE`;
  if (locked.length === 0) throw notFound('This correction');
  const [state] = await readCorrections(readerOf(work.tx), { id }, work.now);
  if (state === undefined) throw notFound('This correction');
  return state;
}

/** Counts the correction's version on, with what else changes. */
export async function bump(work: Work, state: CorrectionState, data: object = {}): Promise<void> {
  await work.tx.correction.update({ where: { id: state.id }, data: { ...data, version: { increment: 1 } } });
}

/** @throws Refusal 409 when the page was drawn before the last change */
export function sameVersion(state: CorrectionState, version: number): void {
  if (state.version !== version) throw staleEdit('this correction');
}

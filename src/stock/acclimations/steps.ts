import { addSetting } from '../../farm/lamps/lamps.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { moveLot } from '../places/placements.ts';
import { heldNow, surroundingsOf } from './next-step.ts';
import { type Acclimation, isOpen, isRunning, nextSteps, readAcclimations, type StepState } from './state.ts';
import { stepTitle } from './view.ts';

/** The acclimation of a step, locked. @throws Refusal 404; 409 when it has ended or the step is settled or not the next */
export async function lockStep(
  work: Work,
  stepId: string,
): Promise<{ acclimation: Acclimation; step: StepState }> {
  const row = await work.tx.acclimationStep.findUnique({
    where: { id: stepId },
    select: { acclimationId: true },
  });
  if (row === null) throw notFound('This step');
  const acclimation = await lockRunning(work, row.acclimationId);
  const step = acclimation.steps.find((one) => one.id === stepId);
  if (step === undefined) throw notFound('This step');
  if (!isOpen(step))
    throw new Refusal('This step was already done or left out. Open the plan again.', { status: 409 });
  if (!nextSteps(acclimation).some((next) => next.id === stepId))
    throw new Refusal('An earlier step of it is still to be done or left out first.', { status: 409 });
  return { acclimation, step };
}

const slackMs = 5 * minuteMs;

/** @throws Refusal 409 when it is too early, or held back, with the reason */
async function refuseHeld(work: Work, acclimation: Acclimation, step: StepState, at: Date): Promise<void> {
  const refuse = (words: string) => new Refusal(words, { status: 409 });
  if (at.getTime() < acclimation.createdAt.getTime() - slackMs)
    throw refuse('It cannot be done before it was planned. Check the time.');
  if (step.dueOn > localDay(at, acclimation.timeZone))
    throw refuse(`It is due on ${step.dueOn} at the earliest.`);
  const around = await surroundingsOf(readerOf(work.tx), [acclimation], work.now);
  const held = heldNow(acclimation, step, around);
  if (held !== null)
    throw refuse(`Held back: ${held.words} If it was done already, note the move or the setting by itself.`);
}

/**
 * Does the next step of an acclimation: moves the lot, or sets the lamps, and marks it done, in one change. The days of
 * the steps after it count from when it was done. After the last one the acclimation has ended.
 * @throws Refusal 409 when it is held back (the reason in words), was done already, or is not the next one; what the move refuses
 */
export async function doLightStep(
  work: Work,
  { stepId, at, note }: { stepId: string; at: Date; note: string },
): Promise<{ acclimationId: string; systemId: string; what: string }> {
  const { acclimation, step } = await lockStep(work, stepId);
  await refuseHeld(work, acclimation, step, at);
  const systemId = await carryOut(work, acclimation, step, at);
  await work.tx.acclimationStep.update({
    where: { id: stepId },
    data: { doneAt: at, doneById: work.accountId, note },
  });
  await shiftLater(work, acclimation, step, localDay(at, acclimation.timeZone));
  await settle(work, acclimation, step);
  const what = stepTitle(step);
  work.record('acclimation.step_done', acclimationSubject(acclimation.id), {
    name: acclimation.name,
    step: step.position,
    what,
    at,
  });
  return { acclimationId: acclimation.id, systemId, what };
}

async function carryOut(work: Work, acclimation: Acclimation, step: StepState, at: Date): Promise<string> {
  const reason = `Step ${step.position} of “${acclimation.name}”`;
  if (step.lampId !== null) {
    const lamp = await work.tx.lamp.findUniqueOrThrow({
      where: { id: step.lampId },
      include: { tank: true },
    });
    const { litHours, rampHours } = lamp;
    await addSetting(work, lamp.id, { percent: step.percent ?? 0, litHours, rampHours, at, note: reason });
    return lamp.tank.systemId;
  }
  await moveLot(work, { lotId: step.lotId ?? '', slotIds: step.slotIds, at, reason });
  return step.systemId ?? '';
}

/** What is done late moves what comes after it by as much, for the same lot or lamps. */
async function shiftLater(work: Work, { id }: Acclimation, step: StepState, day: string): Promise<void> {
  await work.tx.$executeRaw`
    UPDATE acclimation_step SET due_on = due_on + (${day}::date - ${step.dueOn}::date)
     WHERE acclimation_id = ${id}::uuid AND done_at IS NULL AND left_out_at IS NULL AND ${day}::date > ${step.dueOn}::date
       AND (lot_id = ${step.lotId}::uuid OR lamp_id = ${step.lampId}::uuid)`;
}

/** Ends it when that was the last step; counts its version on. */
async function settle(work: Work, acclimation: Acclimation, last: StepState): Promise<void> {
  const left = acclimation.steps.filter((step) => isOpen(step) && step.id !== last.id);
  if (left.length > 0) return bump(work, acclimation);
  await bump(work, acclimation, {
    endedAt: work.now,
    endReason: 'Its last step is done.',
    pausedAt: null,
    pauseReason: null,
  });
  work.record('acclimation.ended', acclimationSubject(acclimation.id), {
    name: acclimation.name,
    reason: 'Its last step is done.',
  });
}

/** Leaves the next step of a lot, or of the lamps, out for good. @throws Refusal 409 when it changed meanwhile */
export async function leaveOutLightStep(
  work: Work,
  { stepId, version, reason }: { stepId: string; version: number; reason: string },
): Promise<{ acclimationId: string }> {
  const { acclimation, step } = await lockStep(work, stepId);
  sameVersion(acclimation, version);
  await work.tx.acclimationStep.update({
    where: { id: stepId },
    data: { leftOutAt: work.now, note: reason },
  });
  await settle(work, acclimation, step);
  work.record('acclimation.step_left_out', acclimationSubject(acclimation.id), {
    name: acclimation.name,
    step: step.position,
    what: stepTitle(step),
    reason,
  });
  if (step.systemId !== null) work.reevaluate(step.systemId);
  return { acclimationId: acclimation.id };
}

/** Waits for whoever else changes this acclimation. @throws Refusal 404; 409 when it has ended */
export async function lockRunning(work: Work, id: string): Promise<Acclimation> {
  await work.tx.$queryRaw`SELECT id FROM acclimation WHERE id = ${id}::uuid FOR UPDATE`;
  const [acclimation] = await readAcclimations(readerOf(work.tx), { id });
  if (acclimation === undefined) throw notFound('This acclimation');
  if (!isRunning(acclimation)) throw new Refusal('This acclimation has ended already.', { status: 409 });
  return acclimation;
}

/** Counts its version on with what else changes. */
export async function bump(work: Work, { id }: Acclimation, data: object = {}): Promise<void> {
  await work.tx.acclimation.update({ where: { id }, data: { ...data, version: { increment: 1 } } });
}

/** @throws Refusal 409 when the page was drawn before the last change */
export function sameVersion(acclimation: Acclimation, version: number): void {
  if (acclimation.version !== version) throw staleEdit('this acclimation');
}

/** Has the systems evaluated in which its lots stand. */
export async function touchSystems(work: Work, lotIds: readonly string[]): Promise<void> {
  const systems = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT system_id AS id FROM lot_place WHERE lot_id = ANY(${[...lotIds]}::uuid[])`;
  for (const { id } of systems) work.reevaluate(id);
}

/** The acclimation as a journal line names it. */
export const acclimationSubject = (id: string) => ({ type: 'acclimation' as const, id });

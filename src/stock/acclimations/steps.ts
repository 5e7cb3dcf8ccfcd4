import { addSetting } from '../../farm/lamps/lamps.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { beforePlanned } from '../../platform/plans/plans.rules.ts';
import { completeStep, leaveStepOut, lockStep } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { dateWords } from '../../platform/words/times.ts';
import { passLampTrouble, passTroubles } from '../pests/troubles.ts';
import { moveLot } from '../places/placements.ts';
import { readStepContext, stepHold } from './next-step.ts';
import { acclimationPlan, acclimationSubject } from './plan.ts';
import type { Acclimation, AcclimationStep } from './state.ts';
import { acclimationStepTitle } from './view.ts';

/** @throws Refusal 409 when it is too early, or held back, with the reason */
async function refuseHeld(
  work: Work,
  acclimation: Acclimation,
  step: AcclimationStep,
  at: Date,
): Promise<void> {
  const refuse = (words: string) => new Refusal(words, { status: 409 });
  const before = beforePlanned(acclimation, at);
  if (before !== null) throw refuse(before);
  if (step.dueOn > localDay(at, acclimation.timeZone))
    throw refuse(`It is due on ${dateWords(step.dueOn, acclimation.timeZone)} at the earliest.`);
  const context = await readStepContext(readerOf(work.tx), [acclimation], work.now);
  const hold = stepHold(acclimation, step, context);
  if (hold !== null)
    throw refuse(`Held back: ${hold.words} If it was done already, note the move or the setting by itself.`);
}

/**
 * Does the next step of an acclimation: moves the lot, or sets the lamps, and marks it done, in one change. The days of
 * the steps after it count from when it was done. After the last one the acclimation has ended.
 * @param despite why it is done while an alert is open on its water; asked for only then
 * @throws Refusal 409 when it is held back (the reason in words), a reason is asked for (beside "despite"), was done already, or is not the next one; what the move refuses
 */
export async function doAcclimationStep(
  work: Work,
  { stepId, at, note, despite }: { stepId: string; at: Date; note: string; despite: string },
): Promise<{ acclimationId: string; systemId: string; what: string }> {
  const locked = await lockStep(work, acclimationPlan, stepId);
  const { plan: acclimation, step } = locked;
  await refuseHeld(work, acclimation, step, at);
  const systemId = await carryOut(work, acclimation, step, { at, despite });
  const { ended } = await completeStep(work, acclimationPlan, locked, {
    at,
    note: note === '' ? despite : note,
  });
  await shiftLater(work, acclimation, step, localDay(at, acclimation.timeZone));
  if (ended) recordEnd(work, acclimation);
  const what = acclimationStepTitle(step);
  work.record('acclimation.step_done', acclimationSubject(acclimation.id), {
    name: acclimation.name,
    step: step.position,
    what,
    at,
  });
  return { acclimationId: acclimation.id, systemId, what };
}

async function carryOut(
  work: Work,
  acclimation: Acclimation,
  step: AcclimationStep,
  { at, despite }: { at: Date; despite: string },
): Promise<string> {
  const reason = `Step ${step.position} of “${acclimation.name}”`;
  if (step.lampId !== null) {
    const lamp = await work.tx.lamp.findUniqueOrThrow({
      where: { id: step.lampId },
      include: { tank: true },
    });
    await passLampTrouble(work, { lamp: lamp.name, systemId: lamp.tank.systemId }, despite);
    const { litHours, rampHours } = lamp;
    await addSetting(work, lamp.id, { percent: step.percent ?? 0, litHours, rampHours, at, note: reason });
    return lamp.tank.systemId;
  }
  const { slotIds } = step;
  const lotId = step.lotId ?? '';
  await passTroubles(work, [{ lotId, code: step.code ?? '', slotIds }], { despite });
  await moveLot(work, { lotId, slotIds, at, reason, despite });
  return step.systemId ?? '';
}

/** What is done late moves what comes after it by as much, for the same lot or lamps. */
async function shiftLater(
  work: Work,
  { id }: Acclimation,
  step: AcclimationStep,
  day: string,
): Promise<void> {
  await work.tx.$executeRaw`
    UPDATE acclimation_step SET due_on = due_on + (${day}::date - ${step.dueOn}::date)
     WHERE acclimation_id = ${id}::uuid AND done_at IS NULL AND left_out_at IS NULL AND ${day}::date > ${step.dueOn}::date
       AND (lot_id = ${step.lotId}::uuid OR lamp_id = ${step.lampId}::uuid)`;
}

function recordEnd(work: Work, { id, name }: Acclimation): void {
  const reason = acclimationPlan.atLastStep?.endReason;
  work.record('acclimation.ended', acclimationSubject(id), { name, reason });
}

/** Leaves the next step of a lot, or of the lamps, out for good. @throws Refusal 409 when it changed meanwhile */
export async function leaveOutAcclimationStep(
  work: Work,
  { stepId, version, reason }: { stepId: string; version: number; reason: string },
): Promise<{ acclimationId: string }> {
  const left = await leaveStepOut(work, acclimationPlan, { stepId, version, reason });
  const { plan: acclimation, step } = left;
  if (left.ended) recordEnd(work, acclimation);
  work.record('acclimation.step_left_out', acclimationSubject(acclimation.id), {
    name: acclimation.name,
    step: step.position,
    what: acclimationStepTitle(step),
    reason,
  });
  if (step.systemId !== null) work.reevaluate(step.systemId);
  return { acclimationId: acclimation.id };
}

/** Has the systems evaluated in which its lots stand. */
export async function touchSystems(work: Work, lotIds: readonly string[]): Promise<void> {
  const systems = await work.tx.$queryRaw<{ id: string }[]>`
    SELECT DISTINCT system_id AS id FROM lot_place WHERE lot_id = ANY(${[...lotIds]}::uuid[])`;
  for (const { id } of systems) work.reevaluate(id);
}

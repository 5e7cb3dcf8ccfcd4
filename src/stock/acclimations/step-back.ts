import { uuidv7 } from 'uuidv7';
import { addSetting } from '../../farm/lamps/lamps.ts';
import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { localDay } from '../../platform/days.ts';
import { isOpen } from '../../platform/plans/plans.rules.ts';
import { changePlan, lockForEdit } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { daysAfter, minuteMs } from '../../science/numeric/time.ts';
import { passTroubles } from '../pests/troubles.ts';
import { moveLot } from '../places/placements.ts';
import { acclimationPlan, acclimationSubject } from './plan.ts';
import { type Acclimation, type AcclimationStep, lastDoneStep } from './state.ts';

/** After a step back the stays are half as long again (own choice). */
const LONGER = 1.5;

/**
 * One step back: each lot goes to where it stood before its last step (or the lamps to the setting before), the step
 * is to be done again after a longer stay, and those after it later still. A paused acclimation goes on with that.
 * @param lotId only this lot; null: all that have gone a step (of lamps: the lamps)
 * @throws Refusal 409 when nothing was done yet, the earlier place is taken, or somebody changed it meanwhile
 */
export async function stepBack(
  work: Work,
  { id, version, reason, lotId }: { id: string; version: number; reason: string; lotId: string | null },
): Promise<void> {
  const acclimation = await lockForEdit(work, acclimationPlan, { id, version });
  const undone = stepsToUndo(acclimation, lotId);
  if (undone.length === 0)
    throw new Refusal('No step of it was done yet: there is none to go back.', { status: 409 });
  const dwellDays = Math.ceil(acclimation.dwellDays * LONGER);
  for (const step of undone) {
    if (step.lampId === null) await moveBack(work, acclimation, step, reason);
    else await turnBack(work, acclimation, step, reason);
    await repeatLater(work, acclimation, step, dwellDays);
  }
  await changePlan(work, acclimationPlan, acclimation, { dwellDays, pausedAt: null, pauseReason: null });
  work.record('acclimation.stepped_back', acclimationSubject(id), {
    name: acclimation.name,
    lots: undone.map((step) => step.code ?? step.lamp),
    reason,
    dwellDays,
  });
}

function stepsToUndo(acclimation: Acclimation, lotId: string | null): AcclimationStep[] {
  if (acclimation.steps.some((step) => step.lampId !== null))
    return [lastDoneStep(acclimation, null)].filter((step) => step !== null);
  const lots = acclimation.lots.filter((lot) => lotId === null || lot.id === lotId);
  return lots.flatMap((lot) => lastDoneStep(acclimation, lot.id) ?? []);
}

async function moveBack(
  work: Work,
  acclimation: Acclimation,
  step: AcclimationStep,
  reason: string,
): Promise<void> {
  const lotId = step.lotId ?? '';
  const before = await work.tx.placement.findFirst({
    where: { lotId, toAt: { not: null, gte: new Date((step.doneAt ?? work.now).getTime() - minuteMs) } },
    orderBy: { fromAt: 'desc' },
    include: { slots: true },
  });
  if (before === null)
    throw new Refusal(
      `${step.code} had no slot before. Move it to a dimmer place by itself, and pause or end this plan.`,
      { status: 409 },
    );
  const slotIds = before.slots.map((slot) => slot.slotId);
  // Its reason is asked for in any case; in water with an open alert the journal keeps it with the move.
  const despite = reason;
  await passTroubles(work, [{ lotId, code: step.code ?? '', slotIds }], { despite });
  await moveLot(work, { lotId, slotIds, at: work.now, reason: `One step back: ${reason}`, despite });
  const light = await work.tx.acclimationStep.findFirst({
    where: { acclimationId: acclimation.id, lotId, doneAt: { not: null }, slotIds: { equals: slotIds } },
  });
  await addStep(work, acclimation, step, {
    dli: light?.dli ?? acclimation.fromDli,
    par: light?.par ?? null,
    slotIds,
    doneAt: work.now,
    doneById: work.accountId,
    note: `One step back: ${reason}`,
  });
}

async function turnBack(
  work: Work,
  acclimation: Acclimation,
  step: AcclimationStep,
  reason: string,
): Promise<void> {
  const lamp = await work.tx.lamp.findUniqueOrThrow({
    where: { id: step.lampId ?? '' },
    include: {
      settings: { where: { at: { lt: step.doneAt ?? work.now } }, orderBy: { at: 'desc' }, take: 1 },
    },
  });
  const percent = lamp.settings[0]?.percent;
  if (percent === undefined)
    throw new Refusal('What the lamps were set to before is not known. Turn them by themselves.', {
      status: 409,
    });
  const { litHours, rampHours } = lamp;
  const note = `One step back: ${reason}`;
  await addSetting(work, lamp.id, { percent, litHours, rampHours, at: work.now, note });
  const scale = step.percent === null || step.percent === 0 ? 1 : percent / step.percent;
  await addStep(work, acclimation, step, {
    dli: step.dli * scale,
    par: step.par === null ? null : step.par * scale,
    percent,
    doneAt: work.now,
    doneById: work.accountId,
    note,
  });
}

/** Another row at the position of a step: done now, or to be done again. */
async function addStep(
  work: Work,
  { id, timeZone }: Acclimation,
  like: AcclimationStep,
  change: Partial<Omit<Prisma.AcclimationStepUncheckedCreateInput, 'id' | 'acclimationId'>>,
): Promise<void> {
  const { position, dli, par, lotId, slotIds, lampId, percent } = like;
  const dueOn = new Date(localDay(work.now, timeZone));
  await work.tx.acclimationStep.create({
    data: {
      id: uuidv7(),
      acclimationId: id,
      position,
      dueOn,
      dli,
      par,
      lotId,
      slotIds,
      lampId,
      percent,
      ...change,
    },
  });
}

/** The step again after a longer stay, and those after it one such stay apart at least. */
async function repeatLater(
  work: Work,
  acclimation: Acclimation,
  step: AcclimationStep,
  dwellDays: number,
): Promise<void> {
  const today = new Date(localDay(work.now, acclimation.timeZone));
  const after = (stays: number) => daysAfter(today, stays * dwellDays);
  const open = acclimation.steps.filter(
    (one) => isOpen(one) && one.lotId === step.lotId && one.lampId === step.lampId,
  );
  await addStep(work, acclimation, step, { dueOn: after(1) });
  const ids = open.map((one) => one.id);
  const days = open.map((_, i) =>
    after(i + 2)
      .toISOString()
      .slice(0, 10),
  );
  await work.tx.$executeRaw`
    UPDATE acclimation_step SET due_on = greatest(due_on, later.day::date)
      FROM unnest(${ids}::uuid[], ${days}::text[]) AS later(id, day) WHERE acclimation_step.id = later.id`;
}

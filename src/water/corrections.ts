import type { Work } from '../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../platform/refusal.ts';
import { localDay } from '../platform/web/moments.ts';
import { convertDifference, type QuantityCode } from '../science/units.ts';
import { capWords, type Draft, draftOf, readGround, type Wished } from './correction-draft.ts';
import { holdOf, metBy } from './correction-hold.rules.ts';
import { type Correctable, caps, correctable } from './correction-means.rules.ts';
import {
  aheadOf,
  askTx,
  type Basis,
  type CorrectionState,
  isRunning,
  lastDone,
  openStep,
  readCorrections,
  type StepState,
} from './correction-state.ts';
import { stepTitle } from './correction-words.ts';
import { addDose } from './doses.ts';
import { type Quantity, say, sayDifference } from './quantities.ts';
import { findOpenWater } from './systems.ts';
import { addWaterChange } from './water-changes.ts';

/** A correction to be planned; canonical units. */
export interface NewCorrection extends Wished {
  systemId: string;
  quantityCode: string;
  reason: string;
  /** Why more than the usual change a day; must be there when it is more. */
  capReason: string;
  /** The amounts that were looked at, as {@link amountsSeen} writes them; null when nobody looked first. */
  seen: string | null;
  /** The running correction that this one takes the place of. */
  revises: { id: string; version: number } | null;
}

/** The amounts of a draft in one line, so that what is planned is what was looked at. */
export function amountsSeen(draft: Extract<Draft, { ok: true }>): string {
  return draft.schedule.steps.map((step) => step.amount).join(' ');
}

/** A quantity that can be corrected. @throws Refusal */
export async function correctableQuantity(
  db: Work['tx'],
  code: string,
): Promise<Quantity & { code: Correctable }> {
  const quantity = await db.quantity.findUnique({ where: { code } });
  if (quantity === null || !(correctable as readonly string[]).includes(code))
    throw new Refusal('Choose alkalinity, calcium, magnesium or salinity.', { field: 'quantityCode' });
  return quantity as Quantity & { code: Correctable };
}

/**
 * Plans a correction from the newest confirmed reading; one that it revises is stopped in the same change.
 * @throws Refusal when no confirmed reading is there, nothing safe reaches the target, one runs already, or the amounts
 *   are no longer those that were looked at (409)
 */
export async function planCorrection(work: Work, input: NewCorrection): Promise<{ id: string }> {
  const { tx, now } = work;
  const system = await findOpenWater(tx, input.systemId);
  const quantity = await correctableQuantity(tx, input.quantityCode);
  const site = await tx.site.findFirstOrThrow({ where: { systems: { some: { id: system.id } } } });
  const today = localDay(now, site.timeZone);
  if (input.startsOn < today)
    throw new Refusal('Choose today or a later day to start.', { field: 'startsOn' });
  if (input.dailyCap > caps[quantity.code].usual * (1 + 1e-9) && input.capReason === '')
    throw new Refusal('Say why more than the usual change a day is right here.', { field: 'capReason' });
  if (input.revises !== null) await stopForRevision(work, input.revises, input.reason);
  const ground = await readGround({ db: tx, ask: askTx(tx) }, system, site.timeZone, quantity, now);
  const draft = draftOf(ground, input);
  if (!draft.ok) throw new Refusal(draft.refused, { field: draft.field });
  if (input.seen !== null && input.seen !== amountsSeen(draft))
    throw new Refusal(
      'The amounts have changed since you looked: a reading or a dose came in. Look at them again.',
      {
        status: 409,
        field: 'seen',
      },
    );
  if (ground.standing.kind !== 'confirmed') throw new Error('a draft without a confirmed reading');
  const { reading } = ground.standing;
  const { id } = await tx.correction.create({
    data: {
      systemId: system.id,
      quantityCode: quantity.code,
      substance: input.means,
      basis: JSON.parse(JSON.stringify(basisOf(input, draft, ground))) as object,
      readingId: reading.id,
      fromValue: reading.value,
      targetValue: input.target,
      dailyCap: input.dailyCap,
      capSource: capWords(quantity, input.dailyCap, input.capReason),
      volumeL: system.volumeL,
      reason: input.reason,
      startsOn: new Date(input.startsOn),
      accountId: work.by,
      createdAt: now,
      revisesId: input.revises?.id ?? null,
      steps: {
        create: draft.schedule.steps.map((step, i) => ({
          position: i + 1,
          dueOn: new Date(new Date(input.startsOn).getTime() + step.day * 86_400_000),
          amount: step.amount,
          unit: draft.means.unit,
          expectedAfter: step.after.value,
          retest: step.retest,
        })),
      },
    },
  });
  work.note(
    'correction.planned',
    { type: 'correction', id },
    {
      system: system.name,
      quantity: quantity.name,
      from: say(quantity, reading.value),
      target: say(quantity, input.target),
      substance: draft.means.name,
      amounts: draft.schedule.steps.map((step) => `${step.amount} ${draft.means.unit}`),
      revises: input.revises?.id ?? null,
    },
  );
  work.touch(system.id);
  return { id };
}

type Grounded = Awaited<ReturnType<typeof readGround>>;

function basisOf(
  input: NewCorrection,
  draft: Extract<Draft, { ok: true }>,
  { standing, drift }: Grounded,
): Basis {
  if (standing.kind !== 'confirmed') throw new Error('a basis without a confirmed reading');
  return {
    means: draft.means.name,
    ...input.stated,
    fromAt: standing.reading.at,
    fromU: standing.reading.uncertainty,
    relativeU: draft.means.relativeU,
    drift: drift.counted,
    usualPerDay: drift.usualPerDay,
    changes: draft.schedule.steps.map((step) => step.change),
    afterU: draft.schedule.steps.map((step) => step.after.u),
  };
}

/** Waits for whoever else changes this correction. @throws Refusal 404 */
async function lock(work: Work, id: string): Promise<CorrectionState> {
  const locked = await work.tx.$queryRaw<
    { id: string }[]
  >`SELECT id FROM correction WHERE id = ${id}::uuid FOR UPDATE`;
  if (locked.length === 0) throw notFound('This correction');
  const [state] = await readCorrections(askTx(work.tx), { id }, work.now);
  if (state === undefined) throw notFound('This correction');
  return state;
}

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
    data: { ...logged, doneAt: at, doneById: work.by, note },
  });
  await bump(work, state);
  work.note(
    'correction.step_done',
    { type: 'correction', id: state.id },
    { system: state.systemName, step: step.position, amount: `${step.amount} ${step.unit}`, ...logged },
  );
  work.touch(state.systemId);
  return { correctionId: state.id, systemId: state.systemId, feedingId: null, what: stepTitle(state, step) };
}

/** Judged at the moment it was done, with what was known then. */
async function heldAt(work: Work, state: CorrectionState, step: StepState, at: Date): Promise<string | null> {
  if (at < state.createdAt) return 'It cannot be done before it was planned. Check the time.';
  const [then] = await readCorrections(askTx(work.tx), { id: state.id }, at);
  if (localDay(at, state.timeZone) < step.dueOn) return `It is planned for ${step.dueOn}.`;
  return then === undefined ? null : (holdOf(aheadOf(then, step, at))?.words ?? null);
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
    const change = await addWaterChange(work, state.systemId, { amount: step.amount, unit: 'L', at, note });
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

async function bump(work: Work, state: CorrectionState, data: object = {}): Promise<void> {
  await work.tx.correction.update({ where: { id: state.id }, data: { ...data, version: { increment: 1 } } });
}

function sameVersion(state: CorrectionState, version: number): void {
  if (state.version !== version) throw staleEdit('this correction');
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
  work.note(
    'correction.step_left_out',
    { type: 'correction', id: state.id },
    { system: state.systemName, step: step.position, reason },
  );
  work.touch(state.systemId);
  return { correctionId: state.id };
}

/** Stops a correction with a reason; what was done stays. @throws Refusal 409 when it has ended or changed meanwhile */
export async function stopCorrection(
  work: Work,
  { id, version, reason }: { id: string; version: number; reason: string },
): Promise<{ systemId: string }> {
  const state = await lock(work, id);
  if (!isRunning(state)) throw new Refusal('This correction has ended already.', { status: 409 });
  sameVersion(state, version);
  await bump(work, state, { stoppedAt: work.now, stopReason: reason });
  work.note('correction.stopped', { type: 'correction', id }, { system: state.systemName, reason });
  work.touch(state.systemId);
  return { systemId: state.systemId };
}

async function stopForRevision(
  work: Work,
  { id, version }: { id: string; version: number },
  reason: string,
): Promise<void> {
  await stopCorrection(work, {
    id,
    version,
    reason: `Revised${reason === '' ? '' : `: ${reason}`}.`.replace('..', '.'),
  });
}

/**
 * Finishes the running corrections of these quantities whose target a retest has met. Called with every change of the
 * readings, in the same change.
 */
export async function finishCorrections(
  work: Work,
  systemId: string,
  codes: readonly string[],
): Promise<void> {
  const states = await readCorrections(askTx(work.tx), { systemIds: [systemId], running: true }, work.now);
  for (const state of states.filter((one) => codes.includes(one.quantity.code))) {
    const step = openStep(state) ?? state.steps.at(-1);
    if (step === undefined) continue;
    const met = metBy({
      ...aheadOf(state, step, work.now),
      fromValue: state.reading.value,
      fromAt: state.reading.at,
      allDone: openStep(state) === null && lastDone(state) !== null,
    });
    if (met === null) continue;
    const { quantity } = state;
    await bump(work, state, { finishedAt: work.now });
    work.note(
      'correction.finished',
      { type: 'correction', id: state.id },
      {
        system: state.systemName,
        read: say(quantity, met.value),
        target: say(quantity, state.target),
        apart: sayDifference(quantity, Math.abs(met.value - state.target), met.value),
        reading: met.id,
      },
    );
  }
}

import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { localDay } from '../../platform/days.ts';
import { changePlan, lockForEdit } from '../../platform/plans/plans.ts';
import { Refusal } from '../../platform/refusal.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { type Correctable, caps, isCorrectable } from '../dosing/substances.rules.ts';
import { type Quantity, say } from '../quantities/quantities.ts';
import { lockOpenWaterSystem } from '../systems/systems.ts';
import {
  type CorrectionDraft,
  type CorrectionRequest,
  capWords,
  draftCorrection,
  readStartingPoint,
  type StartingPoint,
} from './draft.ts';
import { correctionPlan, correctionSubject } from './plan.ts';
import type { Basis } from './queries.ts';

/** A correction to be planned; canonical units. */
export interface NewCorrection extends CorrectionRequest {
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
export function amountsSeen(draft: Extract<CorrectionDraft, { ok: true }>): string {
  return draft.schedule.steps.map((step) => step.amount).join(' ');
}

/** A quantity that can be corrected. @throws Refusal */
export async function correctableQuantity(
  db: Work['tx'],
  code: string,
): Promise<Quantity & { code: Correctable }> {
  const quantity = await db.quantity.findUnique({ where: { code } });
  if (quantity === null || !isCorrectable(code))
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
  const system = await lockOpenWaterSystem(tx, input.systemId);
  const quantity = await correctableQuantity(tx, input.quantityCode);
  const site = await tx.site.findFirstOrThrow({ where: { systems: { some: { id: system.id } } } });
  const today = localDay(now, site.timeZone);
  if (input.startsOn < today)
    throw new Refusal('Choose today or a later day to start.', { field: 'startsOn' });
  if (input.dailyCap > caps[quantity.code].usual * (1 + 1e-9) && input.capReason === '')
    throw new Refusal('Say why more than the usual change a day is right here.', { field: 'capReason' });
  if (input.revises !== null) await stopForRevision(work, input.revises, input.reason);
  const start = await readStartingPoint(readerOf(tx), system, site.timeZone, quantity, now);
  const draft = draftCorrection(start, input);
  if (!draft.ok) throw new Refusal(draft.refused, { field: draft.field });
  if (input.seen !== null && input.seen !== amountsSeen(draft))
    throw new Refusal(
      'The amounts have changed since you looked: a reading or a dose came in. Look at them again.',
      {
        status: 409,
        field: 'seen',
      },
    );
  if (start.standing.kind !== 'confirmed') throw new Error('a draft without a confirmed reading');
  const { reading } = start.standing;
  const { id } = await tx.correction.create({
    data: {
      systemId: system.id,
      quantityCode: quantity.code,
      substance: input.means,
      basis: JSON.parse(JSON.stringify(basisOf(input, draft, start))) as object,
      readingId: reading.id,
      fromValue: reading.value,
      targetValue: input.target,
      dailyCap: input.dailyCap,
      capSource: capWords(quantity, input.dailyCap, input.capReason),
      volumeL: system.volumeL,
      reason: input.reason,
      startsOn: new Date(input.startsOn),
      accountId: work.accountId,
      createdAt: now,
      revisesId: input.revises?.id ?? null,
      steps: {
        create: draft.schedule.steps.map((step, i) => ({
          position: i + 1,
          dueOn: daysAfter(new Date(input.startsOn), step.day),
          afterHours: step.afterHours,
          amount: step.amount,
          unit: draft.means.unit,
          expectedAfter: step.after.value,
          retest: step.retest,
        })),
      },
    },
  });
  work.record('correction.planned', correctionSubject(id), {
    system: system.name,
    quantity: quantity.name,
    from: say(quantity, reading.value),
    target: say(quantity, input.target),
    substance: draft.means.name,
    amounts: draft.schedule.steps.map((step) => `${step.amount} ${draft.means.unit}`),
    revises: input.revises?.id ?? null,
  });
  work.reevaluate(system.id);
  return { id };
}

function basisOf(
  input: NewCorrection,
  draft: Extract<CorrectionDraft, { ok: true }>,
  { standing, drift }: StartingPoint,
): Basis {
  if (standing.kind !== 'confirmed') throw new Error('a basis without a confirmed reading');
  return {
    means: draft.means.name,
    ...input.stated,
    fromAt: standing.reading.at,
    fromU: standing.reading.uncertainty,
    relativeU: draft.means.relativeU,
    drift: drift.counted,
    broke: drift.broke,
    leftOut: drift.leftOut,
    usualPerDay: drift.usualPerDay,
    changes: draft.schedule.steps.map((step) => step.change),
    afterU: draft.schedule.steps.map((step) => step.after.u),
  };
}

/** Stops a correction with a reason; what was done stays. @throws Refusal 409 when it has ended or changed meanwhile */
export async function stopCorrection(
  work: Work,
  { id, version, reason }: { id: string; version: number; reason: string },
): Promise<{ systemId: string }> {
  const state = await lockForEdit(work, correctionPlan, { id, version });
  await changePlan(work, correctionPlan, state, { stoppedAt: work.now, stopReason: reason });
  work.record('correction.stopped', correctionSubject(id), { system: state.systemName, reason });
  work.reevaluate(state.systemId);
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

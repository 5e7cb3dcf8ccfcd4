import type { ConditionState } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { conditionWords, isGraded } from '../base/condition-states.rules.ts';
import { lockLot, lotSubject, touchSystemOf } from '../base/lot-lock.ts';
import { countLot } from './ledger.ts';

/** A condition to be noted. */
export interface ConditionNote {
  lotId: string;
  state: ConditionState;
  /** 1 a little, 2 about a third, 3 most of it; left out where a state has no grades. */
  grade: number | null;
  note: string;
  at: Date;
  /** With 'lost': how many pieces go off the count at once; null leaves the count as it is. */
  lostPieces?: number | null;
}

/**
 * Notes how a lot looked at one time. 'lost' can take pieces off the count in the same change; a lot that still has pieces
 * stays in the stock. 'paling' and 'bleached' pause its acclimation.
 * @throws Refusal 404; 422 for 'other' without a note; 409 when more are lost than there are
 */
export async function noteCondition(work: Work, input: ConditionNote): Promise<{ id: string }> {
  const { lotId, state, note, at } = input;
  const lot = await lockLot(work.tx, lotId);
  if (state === 'other' && note === '') {
    throw new Refusal('Say in the note what you saw.', { field: 'note' });
  }
  const grade = isGraded(state) ? input.grade : null;
  const { id } = await work.tx.condition.create({
    data: { lotId, state, grade, note, at, accountId: work.accountId },
  });
  work.record('condition.noted', lotSubject(lotId), { code: lot.code, state, grade, at, note });
  await pauseAcclimations(work, { code: lot.code, lotId, state, grade, at });
  await touchSystemOf(work, lotId);
  const pieces = state === 'lost' ? (input.lostPieces ?? null) : null;
  if (pieces !== null && pieces > 0) await countLot(work, { lotId, reason: 'lost', pieces, at, note });
  return { id };
}

/** A noted condition with its lot. @throws Refusal 404 */
export async function findCondition(db: Reader, id: string) {
  const condition = await db.condition.findUnique({ where: { id }, include: { lot: true } });
  if (condition === null) throw notFound('This note');
  return condition;
}

/**
 * Voids a condition noted by mistake; it stays visible, struck through, and no rule counts it.
 * @returns the code of the lot
 * @throws Refusal 404; 409 when it is void already
 */
export async function voidCondition(work: Work, id: string, reason: string): Promise<{ code: string }> {
  const { lotId, state, lot } = await findCondition(work.tx, id);
  const data = { voidedAt: work.now, voidReason: reason };
  const voided = await work.tx.condition.updateMany({ where: { id, voidedAt: null }, data });
  if (voided.count === 0) throw new Refusal('This note is voided already.', { status: 409 });
  work.record('condition.voided', lotSubject(lotId), { condition: id, state, reason });
  await touchSystemOf(work, lotId);
  return { code: lot.code };
}

interface ConditionSeen {
  code: string;
  lotId: string;
  state: ConditionState;
  grade: number | null;
  at: Date;
}

/**
 * Pauses the running acclimations of a lot that was seen paling or bleached since they were made. A recovery goes on:
 * it begins with a bleached lot, and gives it more light only after it was found well.
 */
async function pauseAcclimations(
  work: Work,
  { code, lotId, state, grade, at }: ConditionSeen,
): Promise<void> {
  if (state !== 'paling' && state !== 'bleached') return;
  const reason = `${code} was seen ${conditionWords(state, grade).toLowerCase()}`;
  const paused = await work.tx.$queryRaw<{ id: string; name: string }[]>`
    UPDATE acclimation SET paused_at = ${work.now}, pause_reason = ${reason}, version = version + 1
     WHERE ended_at IS NULL AND paused_at IS NULL AND purpose <> 'recovery' AND created_at <= ${at}
       AND id IN (SELECT acclimation_id FROM acclimation_lot WHERE lot_id = ${lotId}::uuid AND ended_at IS NULL)
    RETURNING id, name`;
  for (const { id, name } of paused)
    work.record('acclimation.paused', { type: 'acclimation', id }, { name, reason });
}

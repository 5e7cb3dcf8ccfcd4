import { uuidv7 } from 'uuidv7';
import type { Comparison, ConditionState, LossCause } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf, type SqlReader } from '../../platform/database/sql-reader.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { conditionWords, isGraded } from '../base/condition-states.rules.ts';
import { lockLot, lotSubject, touchSystemOf, touchSystemsOf } from '../base/lot-lock.ts';
import { lastPests, noteSightings, settleVoided } from '../pests/watches.ts';
import { countLot } from './ledger.ts';

/** A condition to be noted. */
export interface ConditionNote {
  lotId: string;
  state: ConditionState;
  /** 1 a little, 2 about a third, 3 most of it; left out where a state has no grades. */
  grade: number | null;
  /** Against the look before, where somebody said so; says nothing of one that is well or lost. */
  compared?: Comparison | null;
  note: string;
  at: Date;
  /**
   * With 'pest': which one, by its code, and how many were counted; left out: not told, nobody counted. A look against the
   * one before goes on with the pest of that one.
   */
  pest?: string | null;
  pestCount?: number | null;
  /** With 'lost': how many pieces go off the count at once; null leaves the count as it is. */
  lostPieces?: number | null;
  /** With 'lost': why; left out: not known. */
  cause?: LossCause;
}

/**
 * Notes how a lot looked at one time. 'lost' can take pieces off the count in the same change; a lot that still has pieces
 * stays in the stock. 'paling' and 'bleached' pause its acclimation; 'pest' puts its water under watch for the pest.
 * @throws Refusal 404; 422 for 'other' without a note; 409 when more are lost than there are
 */
export async function noteCondition(work: Work, input: ConditionNote): Promise<{ id: string }> {
  const { lotId, state, note, at } = input;
  const { code } = await lockLot(work.tx, lotId);
  const [id] = await noteConditions(work, [{ ...input, code }]);
  const pieces = state === 'lost' ? (input.lostPieces ?? null) : null;
  if (pieces !== null && pieces > 0)
    await countLot(work, {
      lotId,
      reason: 'lost',
      pieces,
      at,
      note,
      ...(input.cause && { cause: input.cause }),
    });
  return { id: id as string };
}

/**
 * Notes how several lots looked, in a fixed number of queries. The lots are locked by the caller; no pieces are taken off
 * a count.
 * @returns the ids of the notes, in that order
 * @throws Refusal 422 for 'other' without a note
 */
export async function noteConditions(
  work: Work,
  notes: readonly (Omit<ConditionNote, 'lostPieces' | 'cause'> & { code: string })[],
): Promise<string[]> {
  for (const { state, note, compared = null } of notes)
    if (state === 'other' && note === '' && compared === null)
      throw new Refusal('Say in the note what you saw.', { field: 'note' });
  const before = await pestsBefore(work, notes);
  const seen = notes.map(({ code, lotId, state, grade, compared = null, note, at, pest, pestCount }) => ({
    ...{ id: uuidv7(), code, lotId, state, note, at, counted: pestCount ?? null },
    pest: pest || before.get(lotId) || 'unnamed',
    grade: isGraded(state) ? grade : null,
    compared: state === 'well' || state === 'lost' ? null : compared,
  }));
  await work.tx.condition.createMany({
    data: seen.map(({ code: _, pest: __, counted: ___, ...note }) => ({
      ...note,
      accountId: work.accountId,
    })),
  });
  for (const { lotId, code, state, grade, compared, at, note } of seen)
    work.record('condition.noted', lotSubject(lotId), {
      ...{ code, state, grade, at, note },
      ...(compared === null ? {} : { compared }),
    });
  await pauseAcclimations(work, seen);
  const withPest = seen.filter(({ state }) => state === 'pest');
  await noteSightings(
    work,
    withPest.map(({ id: conditionId, ...sighting }) => ({ conditionId, ...sighting })),
  );
  await touchSystemsOf(
    work,
    seen.map(({ lotId }) => lotId),
  );
  return seen.map(({ id }) => id);
}

/** The pests of the last looks, for looks at a pest that say how it compares and not which it is. */
async function pestsBefore(
  work: Work,
  notes: readonly Pick<ConditionNote, 'lotId' | 'state' | 'compared' | 'pest'>[],
): Promise<ReadonlyMap<string, string>> {
  const untold = notes.filter(({ state, compared, pest }) => state === 'pest' && compared && !pest);
  return untold.length === 0
    ? new Map()
    : lastPests(
        readerOf(work.tx),
        untold.map(({ lotId }) => lotId),
      );
}

/** How each of these lots looked when somebody last looked; those that nobody looked at are left out. One query. */
export async function lastLooks(
  reader: SqlReader,
  lotIds: readonly string[],
): Promise<ReadonlyMap<string, { state: ConditionState; grade: number | null; at: Date }>> {
  const { rows } = await reader.query<{ id: string; state: ConditionState; grade: number | null; at: Date }>(
    'SELECT lot_id AS id, state, grade, at FROM lot_look WHERE lot_id = ANY($1::uuid[])',
    [[...lotIds]],
  );
  return new Map(rows.map(({ id, ...look }) => [id, look]));
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
  await settleVoided(work, id);
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
 * Pauses the running acclimations of lots that were seen paling or bleached since they were made. A recovery goes on:
 * it begins with a bleached lot, and gives it more light only after it was found well.
 */
async function pauseAcclimations(work: Work, seen: readonly ConditionSeen[]): Promise<void> {
  const pale = seen.filter(({ state }) => state === 'paling' || state === 'bleached');
  if (pale.length === 0) return;
  const rows = pale.map(({ code, lotId, state, grade, at }) => ({
    lotId,
    at,
    reason: `${code} was seen ${conditionWords(state, grade).toLowerCase()}`,
  }));
  const paused = await work.tx.$queryRaw<{ id: string; name: string; reason: string }[]>`
    UPDATE acclimation SET paused_at = ${work.now}, pause_reason = pale.reason, version = version + 1
      FROM (SELECT DISTINCT ON (member.acclimation_id) member.acclimation_id, seen.reason
              FROM json_to_recordset(${JSON.stringify(rows)}::json) AS seen ("lotId" uuid, at timestamptz, reason text)
              JOIN acclimation_lot AS member ON member.lot_id = seen."lotId" AND member.ended_at IS NULL
              JOIN acclimation AS running ON running.id = member.acclimation_id AND running.created_at <= seen.at
             ORDER BY member.acclimation_id, seen.reason) AS pale
     WHERE acclimation.id = pale.acclimation_id AND ended_at IS NULL AND paused_at IS NULL AND purpose <> 'recovery'
    RETURNING acclimation.id, acclimation.name, acclimation.pause_reason AS reason`;
  for (const { id, name, reason } of paused)
    work.record('acclimation.paused', { type: 'acclimation', id }, { name, reason });
}

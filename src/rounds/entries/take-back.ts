import type { Prisma, Round } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import { resumeAcclimation } from '../../stock/acclimations/acclimations.ts';
import { lockLot, piecesAt } from '../../stock/base/lot-lock.ts';
import { voidCondition } from '../../stock/lots/conditions.ts';
import { countLot } from '../../stock/lots/ledger.ts';
import { regainSlots, returnToPlace } from '../../stock/places/placements.ts';
import { voidCounts } from '../../stock/stocktakes/stocktakes.ts';
import type { Entry } from './entries.schema.ts';
import type { Applied } from './entry-effects.ts';

interface Former {
  id: string;
  roundId: string;
  kind: string;
  rackId: string | null;
  lotId: string | null;
  at: Date;
  receivedAt: Date;
  detail: {
    conditionId?: string;
    asBefore?: string[];
    /** Counts of a stocktake. */
    countIds?: string[];
    /** How many pieces more there were after it. */
    change?: number;
    code?: string;
    rack?: string;
    mended?: object;
  };
}

const reason = 'Taken back on the round.';

/**
 * Takes back what was tapped by mistake: its look counts no more, its pieces and their place come back, a plan that it
 * paused goes on. The entry is kept as what it was. One that never came is refused its place, so that it does nothing
 * should it come later; one taken back by two people is taken back once.
 * @throws Refusal 404 where it is of another round; 409 where an entry of its kind cannot be taken back
 */
export async function takeBack(
  work: Work,
  round: Round,
  entry: Extract<Entry, { kind: 'take_back' }>,
  at: Date,
): Promise<Applied> {
  const former = await lockEntry(work, round, entry.entryId, at);
  if (former === null) return { detail: { entryId: entry.entryId, what: 'not come yet' } };
  if (former.roundId !== round.id) throw notFound('This note, on this round,');
  const subjects =
    former.lotId === null ? { rackId: former.rackId } : { rackId: former.rackId, lotId: former.lotId };
  const what = former.detail.code ?? former.detail.rack ?? '';
  if (former.kind === 'taken_back')
    work.record('round_entry.sent_again', { type: 'round_entry', id: former.id });
  else await undo(work, former, at);
  return { ...subjects, detail: { entryId: former.id, was: former.kind, what } };
}

/** The entry, locked; null where it has not come, and now never will. */
async function lockEntry(work: Work, round: Round, id: string, at: Date): Promise<Former | null> {
  const row = {
    id,
    roundId: round.id,
    kind: 'taken_back',
    at,
    receivedAt: work.now,
    accountId: work.accountId,
  };
  const { count } = await work.tx.roundEntry.createMany({
    data: [{ ...row, detail: { takenBack: work.now.toISOString() } }],
    skipDuplicates: true,
  });
  if (count === 1) {
    work.record('round_entry.taken_back', { type: 'round_entry', id }, { was: null });
    return null;
  }
  const [former] = await work.tx.$queryRaw<Former[]>`
    SELECT id, round_id AS "roundId", kind, rack_id AS "rackId", lot_id AS "lotId", at, received_at AS "receivedAt", detail
      FROM round_entry WHERE id = ${id}::uuid FOR UPDATE`;
  if (former === undefined) throw notFound('This note');
  return former;
}

const undoable: ReadonlySet<string> = new Set([
  'condition',
  'count',
  'rack_well',
  'shelf_count',
  'skipped',
  'refused',
]);

async function undo(work: Work, former: Former, at: Date): Promise<void> {
  const { id, kind, lotId, detail } = former;
  if (!undoable.has(kind))
    throw new Refusal('This cannot be taken back from a round. Correct it on its own page.', {
      status: 409,
    });
  if (kind === 'rack_well') await touchRack(work, former.rackId);
  for (const look of [detail.conditionId ?? [], detail.asBefore ?? []].flat()) await voidLook(work, look);
  if (detail.countIds !== undefined) await voidCounts(work, detail.countIds);
  if (lotId !== null && kind !== 'refused') {
    await bringBackPieces(work, { ...former, lotId }, at > former.at ? at : former.at);
    await resumePaused(work, lotId, former.receivedAt);
  }
  const kept = { ...detail, was: kind, takenBack: work.now.toISOString() } as Prisma.InputJsonObject;
  await work.tx.roundEntry.update({ where: { id }, data: { kind: 'taken_back', detail: kept } });
  work.record('round_entry.taken_back', { type: 'round_entry', id }, { was: kind });
}

async function voidLook(work: Work, id: string): Promise<void> {
  const look = await work.tx.condition.findUnique({ where: { id }, select: { voidedAt: true } });
  if (look !== null && look.voidedAt === null) await voidCondition(work, id, reason);
}

async function touchRack(work: Work, rackId: string | null): Promise<void> {
  if (rackId === null) return;
  const rack = await work.tx.rack.findUnique({
    where: { id: rackId },
    select: { tank: { select: { systemId: true } } },
  });
  if (rack !== null) work.reevaluate(rack.tank.systemId);
}

/** The pieces that were taken off or put on the count, and the slots that the lot left with them, if still free. */
async function bringBackPieces(work: Work, former: Former & { lotId: string }, at: Date): Promise<void> {
  const { lotId, detail } = former;
  const { change = 0 } = detail;
  if (change === 0) return;
  await lockLot(work.tx, lotId);
  const pieces = (await piecesAt(work.tx, lotId, at)) - change;
  await countLot(work, { lotId, reason: 'recount', pieces, at, note: reason });
  if (change >= 0) return;
  await returnToPlace(work, lotId, { leftSince: former.at, at, reason });
  await regainSlots(work, lotId, former.at);
}

/** Plans of light that the entry paused as it came go on; those paused by anything else stay paused. */
async function resumePaused(work: Work, lotId: string, pausedAt: Date): Promise<void> {
  const paused = await work.tx.acclimation.findMany({
    where: { pausedAt, endedAt: null, lots: { some: { lotId } } },
    select: { id: true, version: true },
  });
  for (const { id, version } of paused) await resumeAcclimation(work, { id, version, note: reason });
}

import type { Lot } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Reader, Tx } from '../../platform/service.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { lockLot, lotSubject, piecesAt } from '../base/lot-lock.ts';
import { passMoves } from '../pests/gate.ts';
import { cellWords, lockSlots, type NamedSlot, placeWords, refuseRetired, refuseTaken } from './slots.ts';

/** A lot and the slots it is moved to. */
export interface Move {
  lotId: string;
  /** Slots of one rack; empty takes the lot off its rack. */
  slotIds: readonly string[];
  at: Date;
  reason: string;
  /** Why it goes to other water although its own is under watch for a pest, or its quarantine has not ended. */
  despite?: string;
}

/** What a move changed. */
export interface MoveResult {
  /** The placement that is open now; null when the lot stands nowhere. */
  placementId: string | null;
  /** False when it stood there already. */
  changed: boolean;
  /** "Rack S2, A3"; "" when it stands nowhere. */
  place: string;
}

interface OpenPlacement {
  id: string;
  fromAt: Date;
  slots: NamedSlot[];
}

async function openPlacement(tx: Tx, lotId: string): Promise<OpenPlacement | null> {
  const open = await tx.placement.findFirst({ where: { lotId, toAt: null }, include: { slots: true } });
  if (open === null) return null;
  const slots = await lockSlots(
    tx,
    open.slots.map((slot) => slot.slotId),
  );
  return { id: open.id, fromAt: open.fromAt, slots };
}

const wordsOf = (slots: readonly NamedSlot[]) =>
  slots[0] === undefined ? '' : placeWords(slots[0].rackName, slots);

/** Ends the open placement; one that would have lasted no time is deleted. */
async function endPlacement(tx: Tx, open: OpenPlacement, at: Date): Promise<void> {
  if (at > open.fromAt) {
    await tx.placement.update({ where: { id: open.id }, data: { toAt: at } });
    return;
  }
  await tx.placementSlot.deleteMany({ where: { placementId: open.id } });
  await tx.placement.delete({ where: { id: open.id } });
}

async function startPlacement(
  work: Work,
  { lotId, at: fromAt, reason, stays = false }: Omit<Move, 'slotIds' | 'despite'> & { stays?: boolean },
  slots: readonly NamedSlot[],
): Promise<string> {
  const { accountId } = work;
  const { id } = await work.tx.placement.create({ data: { lotId, fromAt, reason, stays, accountId } });
  await work.tx.placementSlot.createMany({
    data: slots.map((slot) => ({ placementId: id, slotId: slot.id })),
  });
  return id;
}

function refuseBeforePlacement(open: OpenPlacement | null, at: Date): void {
  if (open === null || at >= open.fromAt) return;
  throw new Refusal(
    `It came to ${wordsOf(open.slots)} only after that. Enter a time when it was already there.`,
    { status: 409, field: 'at' },
  );
}

const sameSlots = (a: readonly { id: string }[], b: readonly { id: string }[]) =>
  a.length === b.length && a.every((slot) => b.some((other) => other.id === slot.id));

/**
 * A time typed to the minuteMs means some moment within it: the first at which the lot was there and the slots free,
 * so that what was just taken in or just moved away is not refused over seconds that nobody typed.
 */
async function momentWithin(tx: Tx, { lotId, at, slotIds }: Move): Promise<Date> {
  if (at.getTime() % minuteMs !== 0) return at;
  const end = new Date(at.getTime() + minuteMs);
  const [{ first } = { first: null }] = await tx.$queryRaw<{ first: Date | null }[]>`
    SELECT greatest(
      (SELECT max(from_at) FROM placement WHERE lot_id = ${lotId}::uuid AND to_at IS NULL AND from_at > ${at} AND from_at < ${end}),
      (SELECT min(ledger_entry.at) FROM ledger_entry WHERE lot_id = ${lotId}::uuid AND voided_at IS NULL HAVING min(ledger_entry.at) > ${at} AND min(ledger_entry.at) < ${end}),
      (SELECT max(to_at) FROM placement_slot WHERE slot_id = ANY(${[...slotIds]}::uuid[]) AND to_at > ${at} AND to_at < ${end})) AS first`;
  return first ?? at;
}

/**
 * Moves a lot: ends its placement and starts the next at the same moment. A move to where it already stands changes
 * nothing. When two people move lots into one slot, the second is refused and told which lot stands there.
 * @throws Refusal 404, 409 (taken, too early), 422 (nothing left to place, no such slot)
 */
export async function moveLot(work: Work, asked: Move): Promise<MoveResult> {
  const lot = await lockLot(work.tx, asked.lotId);
  const open = await openPlacement(work.tx, lot.id);
  await refuseRetired(work.tx, asked.slotIds);
  const slots = await lockSlots(work.tx, asked.slotIds);
  const move = { ...asked, at: await momentWithin(work.tx, asked) };
  await refuseWithoutPieces(work.tx, lot, move);
  const place = wordsOf(slots);
  if (sameSlots(open?.slots ?? [], slots)) {
    work.record('placement.confirmed', lotSubject(lot.id), { code: lot.code, place });
    return { placementId: open?.id ?? null, changed: false, place };
  }
  refuseBeforePlacement(open, move.at);
  await refuseTaken(work.tx, slots, lot.id, move.at);
  const { id: lotId, code } = lot;
  await passMoves(work, [{ lotId, code, slotIds: move.slotIds }], {
    at: move.at,
    despite: move.despite ?? '',
  });
  if (open !== null) await endPlacement(work.tx, open, move.at);
  const placementId = slots.length === 0 ? null : await startPlacement(work, move, slots);
  const kind = slots.length === 0 ? 'placement.ended' : 'placement.started';
  const from = wordsOf(open?.slots ?? []);
  work.record(kind, lotSubject(lot.id), {
    code: lot.code,
    from,
    to: place,
    at: move.at,
    reason: move.reason,
  });
  for (const slot of [...slots, ...(open?.slots ?? [])]) work.reevaluate(slot.systemId);
  return { placementId, changed: true, place };
}

async function refuseWithoutPieces(tx: Tx, lot: Lot, { slotIds, at }: Move): Promise<void> {
  if (slotIds.length === 0 || (lot.pieces > 0 && (await piecesAt(tx, lot.id, at)) > 0)) return;
  throw new Refusal(
    lot.pieces > 0
      ? `There were no pieces of ${lot.code} yet at that time. Enter a later one.`
      : `No pieces of ${lot.code} are left to place. If there are some, recount the lot first.`,
    { field: lot.pieces > 0 ? 'at' : 'slot' },
  );
}

/** True when a lot stands on a rack now. */
export const isPlaced = async (db: Reader, lotId: string): Promise<boolean> =>
  (await db.placement.count({ where: { lotId, toAt: null } })) > 0;

/** The rack on which a lot stands now; null when it stands on none. */
export async function rackOfLot(db: Reader, lotId: string): Promise<string | null> {
  const slot = await db.placementSlot.findFirst({
    where: { toAt: null, placement: { lotId } },
    select: { slot: { select: { rackId: true } } },
  });
  return slot?.slot.rackId ?? null;
}

/**
 * Takes a lot off some of its slots while its pieces stay in the others: no move. With no slot named, somebody says
 * that it covers all of them.
 * @returns the names of the slots that are free now
 * @throws Refusal 409 when it stands nowhere, or would have no slot left
 */
export async function leaveSlots(
  work: Work,
  { lotId, slotIds, since }: { lotId: string; slotIds: readonly string[]; since: Date },
): Promise<string> {
  const { code } = await lockLot(work.tx, lotId);
  const open = await openPlacement(work.tx, lotId);
  const left = (open?.slots ?? []).filter(({ id }) => slotIds.includes(id));
  const kept = (open?.slots ?? []).filter(({ id }) => !slotIds.includes(id));
  if (open === null || kept.length === 0)
    throw new Refusal(`${code} has pieces left: leave it at least one slot.`, {
      status: 409,
      field: 'empty',
    });
  const at = since > open.fromAt ? since : work.now;
  const reason = left.length === 0 ? 'Covers all of its slots' : `${cellWords(left)} is empty`;
  await endPlacement(work.tx, open, at);
  await startPlacement(work, { lotId, at, reason, stays: true }, kept);
  const change = { code, from: wordsOf(open.slots), to: wordsOf(kept), at, reason };
  work.record('placement.narrowed', lotSubject(lotId), change);
  for (const { systemId } of kept) work.reevaluate(systemId);
  return left.length === 0 ? '' : cellWords(left);
}

/** Gives a lot the slots back that it left since then, if all of them are free: the pieces never left. */
export async function regainSlots(work: Work, lotId: string, since: Date): Promise<void> {
  const open = await work.tx.placement.findFirst({ where: { lotId, toAt: null, stays: true } });
  if (open === null || open.fromAt < since) return;
  const before = await work.tx.placement.findFirst({
    where: { lotId, toAt: open.fromAt },
    include: { slots: { select: { slotId: true } } },
  });
  if (before === null) return;
  const slotIds = before.slots.map(({ slotId }) => slotId);
  const slots = await lockSlots(work.tx, slotIds);
  const others = { slotId: { in: slotIds }, placement: { lotId: { not: lotId } } };
  const taken = { OR: [{ toAt: null }, { toAt: { gt: open.fromAt } }] };
  if ((await work.tx.placementSlot.count({ where: { ...others, ...taken } })) > 0) return;
  await work.tx.placementSlot.deleteMany({ where: { placementId: open.id } });
  await work.tx.placement.delete({ where: { id: open.id } });
  await work.tx.placement.update({ where: { id: before.id }, data: { toAt: null } });
  for (const { systemId } of slots) work.reevaluate(systemId);
}

/** Takes a lot without pieces off its rack, so that its slots are free. */
export async function clearPlace(work: Work, lotId: string, at: Date): Promise<void> {
  const open = await openPlacement(work.tx, lotId);
  if (open === null) return;
  await moveLot(work, {
    lotId,
    slotIds: [],
    at: at > open.fromAt ? at : open.fromAt,
    reason: 'No pieces left',
  });
}

/** A lot that has pieces again stands where it stood when it left its slots since then, if all of them are free. */
export async function returnToPlace(
  work: Work,
  lotId: string,
  { leftSince, at, reason }: { leftSince: Date; at: Date; reason: string },
): Promise<void> {
  if (await isPlaced(work.tx, lotId)) return;
  const left = await work.tx.placement.findFirst({
    where: { lotId, toAt: { gte: leftSince } },
    orderBy: { toAt: 'desc' },
    include: { slots: { select: { slotId: true } } },
  });
  const slotIds = left?.slots.map(({ slotId }) => slotId) ?? [];
  const taken = await work.tx.placementSlot.count({ where: { slotId: { in: slotIds }, toAt: null } });
  if (slotIds.length > 0 && taken === 0) await moveLot(work, { lotId, slotIds, at, reason });
}

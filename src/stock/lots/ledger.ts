import type { LedgerReason, LossCause } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lockLot, lotSubject, piecesAt, touchSystemOf, touchSystemsOf } from '../base/lot-lock.ts';
import { type GatedLot, passGate } from '../pests/gate.ts';
import { clearPlace } from '../places/placements.ts';
import { clearPlaces } from '../places/several-moves.ts';

/** What people enter by hand; cuts, splits and tags write their own lines. */
export const COUNT_REASONS = ['lost', 'sold', 'received', 'recount'] as const;

/** A change of a count; what was sold comes from its sale ({@link countSold}). */
export interface Count {
  lotId: string;
  reason: Exclude<(typeof COUNT_REASONS)[number], 'sold'>;
  /** How many were lost or received; for a recount, how many there are. */
  pieces: number;
  at: Date;
  note: string;
  /** Of a loss: why, as far as somebody can say; left out: not known. */
  cause?: LossCause;
  /** Why they are given away although their water is under watch for a pest, or in quarantine; left out: the note says it. */
  despite?: string;
}

/** Pieces that go off the count by a sale. */
export interface SoldCount extends Pick<Count, 'lotId' | 'pieces' | 'at' | 'note'> {
  tagId: string | null;
}

/** One line of a ledger. */
export interface LedgerLine {
  lotId: string;
  at: Date;
  change: number;
  reason: LedgerReason;
  cause?: LossCause;
  note: string;
  cutId?: string;
  tagId?: string;
}

/** @throws Refusal when more pieces would be taken than there are */
export function refuseMoreThan(available: number, taken: number, code: string): void {
  if (taken <= available) return;
  throw new Refusal(
    available === 0
      ? `There were no pieces of ${code} then. Look at its ledger, or recount it first.`
      : `There were only ${plural(available, 'piece', 'pieces')} of ${code} then. Enter at most ${available}, or recount it first.`,
    { status: 409, field: 'pieces' },
  );
}

/** Writes one line; the database keeps the lot's count and refuses one below zero. */
export async function writeLedger(work: Work, line: LedgerLine): Promise<{ id: string }> {
  return work.tx.ledgerEntry.create({ data: { ...line, accountId: work.accountId }, select: { id: true } });
}

/** The cause of a loss; no other change has one. */
const causeOf = (reason: LedgerReason, cause: LossCause = 'unknown') => (reason === 'lost' ? { cause } : {});

const signOf = { received: 1, lost: -1, sold: -1 } as const;

/** What is given away leaves the farm as what is sold does: its water is asked the same. */
async function passGivenAway(
  work: Work,
  lots: readonly GatedLot[],
  { cause, despite, note }: Pick<Count, 'cause' | 'despite' | 'note'>,
): Promise<void> {
  if (cause !== 'given_away') return;
  const said = despite === undefined ? { despite: note, field: 'note' } : { despite };
  await passGate(work, 'sale', lots, said);
}

/**
 * Enters a change of a lot's count, or a recount, in its ledger. A lot with no pieces left leaves its slots.
 * @returns how many pieces there are now, and the id of the line
 * @throws Refusal 404; 409 when there are not that many, or they are given away and their water is against it
 */
export async function countLot(work: Work, count: Count): Promise<{ pieces: number; entryId: string }> {
  const { id: lotId, code } = await lockLot(work.tx, count.lotId);
  await passGivenAway(work, [{ lotId, code }], count);
  return enterCount(work, count);
}

/**
 * Takes sold pieces off the count. `sellPieces` alone calls it, after it has asked their water.
 * @returns how many pieces there are now, and the id of the line
 * @throws Refusal 404; 409 when there are not that many
 */
export const countSold = (work: Work, sold: SoldCount): Promise<{ pieces: number; entryId: string }> =>
  enterCount(work, { ...sold, reason: 'sold' });

async function enterCount(
  work: Work,
  count: (Count & { tagId?: null }) | (SoldCount & { reason: 'sold'; cause?: undefined }),
): Promise<{ pieces: number; entryId: string }> {
  const { lotId, reason, pieces, at, note } = count;
  const lot = await lockLot(work.tx, lotId);
  const available = await piecesAt(work.tx, lotId, at);
  const change = reason === 'recount' ? pieces - available : pieces * signOf[reason];
  refuseMoreThan(available, -change, lot.code);
  await touchSystemOf(work, lotId);
  const tag = count.tagId == null ? {} : { tagId: count.tagId };
  const why = causeOf(reason, count.cause);
  const { id: entryId } = await writeLedger(work, { lotId, at, change, reason, note, ...why, ...tag });
  work.record(`ledger.${reason}`, lotSubject(lotId), { code: lot.code, change, at, note, ...why });
  const left = lot.pieces + change;
  if (left === 0) await clearPlace(work, lotId, at);
  return { pieces: left, entryId };
}

/** A change of one lot's count among those of several; the change of pieces is known already. */
export interface LotCount {
  lotId: string;
  code: string;
  change: number;
  /** Pieces that are left. */
  left: number;
}

/**
 * Changes the counts of several lots in a fixed number of queries: each by a line in its ledger. Lots with no pieces left
 * leave their slots. The lots are locked by the caller, who has refused what is more than there is.
 * @throws Refusal 409 where they are given away and the water of one is against it
 */
export async function countLots(
  work: Work,
  counts: readonly LotCount[],
  { reason, at, note, cause = 'unknown' }: Pick<Count, 'reason' | 'at' | 'note' | 'cause'>,
): Promise<void> {
  if (counts.length === 0) return;
  await passGivenAway(work, counts, { cause, note });
  const ids = counts.map(({ lotId }) => lotId);
  await touchSystemsOf(work, ids);
  const why = causeOf(reason, cause);
  const line = { at, reason, note, accountId: work.accountId, ...why };
  await work.tx.ledgerEntry.createMany({
    data: counts.map(({ lotId, change }) => ({ lotId, change, ...line })),
  });
  for (const { lotId, code, change } of counts)
    work.record(`ledger.${reason}`, lotSubject(lotId), { code, change, at, note, ...why });
  const gone = counts.filter(({ left }) => left === 0).map(({ lotId }) => lotId);
  await clearPlaces(work, gone, at);
}

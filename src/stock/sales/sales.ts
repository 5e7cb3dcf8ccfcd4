import type { Work } from '../../platform/change.ts';
import { Refusal } from '../../platform/refusal.ts';
import { plural } from '../../platform/words/numbers.ts';
import { lockLot, lotSubject, touchSystemOf } from '../base/lot-lock.ts';
import { countSold, writeLedger } from '../lots/ledger.ts';
import { passGate } from '../pests/gate.ts';
import { openHolds, releaseHold } from './holds.ts';

/** One sale of pieces. */
export interface NewSale {
  lotId: string;
  pieces: number;
  /** Who bought them, for the farm alone; '' when nobody says: then it is the hold's buyer. */
  buyer: string;
  at: Date;
  note: string;
  tagId: string | null;
  /** The hold that was made for this buyer; it is released with the sale. */
  holdId: string | null;
  /** Why they are sold although their water is under watch for a pest, or their quarantine has not ended; '' where it is not said. */
  despite?: string;
}

/**
 * Sells pieces: writes the ledger, records the sale with its buyer, and releases the hold that was made for them. Pieces
 * held for others cannot be sold.
 * @returns how many pieces are left
 * @throws Refusal when fewer are free than that, or their water asks for a reason
 */
export async function sellPieces(work: Work, sale: NewSale): Promise<{ id: string; pieces: number }> {
  const lot = await lockLot(work.tx, sale.lotId);
  const holds = await openHolds(work.tx, lot.id);
  const own = holds.find(({ id }) => id === sale.holdId);
  if (sale.holdId !== null && own === undefined)
    throw new Refusal('This hold was already released or sold.', { status: 409, field: 'hold' });
  const forOthers = holds.reduce((sum, hold) => sum + hold.pieces, 0) - (own?.pieces ?? 0);
  if (sale.pieces > lot.pieces - forOthers && sale.pieces <= lot.pieces) {
    throw new Refusal(
      `${plural(forOthers, 'piece is', 'pieces are')} held for other buyers: enter at most ${lot.pieces - forOthers}, or release a hold first.`,
      { field: 'pieces' },
    );
  }
  await passGate(work, 'sale', [{ lotId: lot.id, code: lot.code }], { despite: sale.despite ?? '' });
  const { at, note, tagId, pieces } = sale;
  const buyer = sale.buyer === '' ? (own?.buyer ?? '') : sale.buyer;
  if (own !== undefined) await releaseHold(work, own.id, 'Sold');
  const counted = await countSold(work, { lotId: lot.id, pieces, at, note, tagId });
  const { id } = await work.tx.sale.create({
    data: {
      lotId: lot.id,
      pieces,
      buyer,
      at,
      note,
      tagId,
      holdId: own?.id ?? null,
      ledgerEntryId: counted.entryId,
      accountId: work.accountId,
    },
  });
  work.record('sale.made', lotSubject(lot.id), { code: lot.code, pieces });
  return { id, pieces: counted.pieces };
}

/**
 * Takes a sale back whose pieces never left: they are on the count again, the sale stays in view as voided. The lot's place
 * is not given back where it had left it.
 * @throws Refusal 409 when it was taken back already
 */
export async function takeSaleBack(work: Work, id: string, reason: string): Promise<void> {
  const sale = await work.tx.sale.findUniqueOrThrow({ where: { id } });
  const lot = await lockLot(work.tx, sale.lotId);
  const { count } = await work.tx.sale.updateMany({
    where: { id, voidedAt: null },
    data: { voidedAt: work.now, voidReason: reason },
  });
  if (count === 0) throw new Refusal('This sale was taken back already.', { status: 409 });
  const line = {
    lotId: lot.id,
    at: work.now,
    change: sale.pieces,
    reason: 'returned',
    note: reason,
  } as const;
  await writeLedger(work, line);
  await touchSystemOf(work, lot.id);
  work.record('sale.taken_back', lotSubject(lot.id), { code: lot.code, pieces: sale.pieces, reason });
}

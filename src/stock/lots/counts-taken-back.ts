import type { Prisma } from '../../generated/prisma/client.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Reader } from '../../platform/service.ts';
import { lockLot, lotSubject, touchSystemOf } from '../base/lot-lock.ts';
import { clearPlace, regainSlots, returnToPlace } from '../places/placements.ts';

const withWhatItBelongsTo = {
  lot: { select: { id: true, code: true, deliveryLine: { select: { id: true } } } },
  healingLook: { select: { voidedAt: true } },
  stocktakeLine: { select: { stocktake: { select: { name: true, closedAt: true } } } },
  sale: { select: { line: { select: { order: { select: { number: true } } } } } },
} satisfies Prisma.LedgerEntryInclude;

type Line = Prisma.LedgerEntryGetPayload<{ include: typeof withWhatItBelongsTo }>;

/** A line of a ledger with its lot. @throws Refusal 404 */
async function findLine(db: Reader, id: string): Promise<Line> {
  const line = await db.ledgerEntry.findUnique({ where: { id }, include: withWhatItBelongsTo });
  if (line === null) throw notFound('This change of the count');
  return line;
}

/** What a line is part of, and where that is taken back; null where it stands alone. */
function partOf({ reason, cutId, healingLook, stocktakeLine, sale, lot }: Line): string | null {
  if (sale !== null) {
    const number = sale.line?.order.number;
    return number === undefined
      ? 'It belongs to a sale of which the order is gone. Enter what came back as received.'
      : `It belongs to order ${number}. Take the order back to “Packed” on its page under Stock, Orders: the pieces then come back.`;
  }
  if (healingLook !== null && healingLook.voidedAt === null)
    return 'It belongs to a look after a cut. Take that look back on the page of the cut pieces.';
  if (stocktakeLine !== null && stocktakeLine.stocktake.closedAt === null)
    return `It belongs to the stocktake “${stocktakeLine.stocktake.name}”. Take the settlement back there.`;
  if (cutId !== null || reason === 'split' || reason === 'merged')
    return 'It belongs to a cut, or to a lot that was split or put together: two lots changed at once. Recount both lots.';
  if (reason === 'returned') return 'It belongs to an order that came back. Recount the lot.';
  if (reason === 'received' && lot.deliveryLine !== null)
    return 'It came with a delivery, and the claim on the sender counts these pieces. Recount the lot.';
  return null;
}

/**
 * A line of a ledger that can be taken back.
 * @throws Refusal 404; 409 when it is part of something else, or was taken back already
 */
export async function lineToTakeBack(db: Reader, id: string): Promise<Line> {
  const line = await findLine(db, id);
  const part = partOf(line);
  if (part !== null) throw new Refusal(`This line cannot be taken back by itself. ${part}`, { status: 409 });
  if (line.voidedAt !== null) throw new Refusal('This line was taken back already.', { status: 409 });
  return line;
}

/**
 * Takes a change of a count back that was entered by mistake: it stays in view and no longer counts. A lot that has
 * pieces again stands where it stood, if that is still free; one that has none left leaves its slots.
 * @returns the lot's code, and how many pieces there are now
 * @throws Refusal as `lineToTakeBack`; 409 when later lines of the ledger need these pieces
 */
export async function takeCountBack(
  work: Work,
  id: string,
  reason: string,
): Promise<{ code: string; pieces: number }> {
  const { lotId, change, at, lot } = await lineToTakeBack(work.tx, id);
  const before = await lockLot(work.tx, lotId);
  await touchSystemOf(work, lotId);
  const data = { voidedAt: work.now, voidReason: reason };
  const { count } = await work.tx.ledgerEntry.updateMany({ where: { id, voidedAt: null }, data });
  if (count === 0) throw new Refusal('This line was taken back already.', { status: 409 });
  work.record('ledger.taken_back', lotSubject(lotId), { code: lot.code, change, reason });
  const pieces = before.pieces - change;
  if (pieces === 0 && before.pieces > 0) await clearPlace(work, lotId, work.now);
  if (pieces > 0 && before.pieces === 0)
    await returnToPlace(work, lotId, { leftSince: at, at: work.now, reason });
  else if (change < 0) await regainSlots(work, lotId, at);
  return { code: lot.code, pieces };
}

/** Takes back what a look took off the count: the loss that was entered with it, if it still counts. */
export async function takeLossBack(
  work: Work,
  { lotId, at }: { lotId: string; at: Date },
  reason: string,
): Promise<void> {
  const loss = await work.tx.ledgerEntry.findFirst({
    where: { lotId, at, reason: 'lost', voidedAt: null, healingLook: null },
  });
  if (loss !== null) await takeCountBack(work, loss.id, reason);
}

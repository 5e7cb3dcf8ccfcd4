import type { Work } from '../../platform/change.ts';
import { localDay } from '../../platform/days.ts';
import { Refusal } from '../../platform/refusal.ts';
import { lockLot } from '../base/lot-lock.ts';
import { type NewSale, sellPieces } from '../sales/sales.ts';
import { lockOrder, releaseLines, removeLine, takeOrder, touchOrder, writeStage } from './orders.ts';

// A hold or a sale of one lot is an order of one lot: it is found, changed, returned and counted like any other.

/** Pieces of one lot to be held for a buyer. */
export interface SingleHold {
  lotId: string;
  pieces: number;
  buyer: string;
  /** The last day, "2026-12-01". */
  until: string;
  note: string;
  /** Why, although their water is under watch for a pest; '' where it is not said. */
  despite?: string;
}

/** Holds pieces of one lot. @throws Refusal when fewer are free, or their water asks for a reason */
export async function holdPieces(work: Work, hold: SingleHold): Promise<{ id: string; orderId: string }> {
  const { lotId, pieces, buyer, until, note, despite = '' } = hold;
  const { siteId, priceMinor } = await lockLot(work.tx, lotId);
  const lines = [{ lotId, pieces, priceMinor }];
  const order = { siteId, buyer, contact: '', note, until, despite, lines, hold: true };
  const { id: orderId, holdIds } = await takeOrder(work, order);
  return { id: holdIds[0] as string, orderId };
}

/**
 * Lets held pieces go. The order is called off with its only lot; else the lot is taken off it.
 * @throws Refusal 404; 409 when the hold is not open any more, or the pieces are packed
 */
export async function letGo(work: Work, holdId: string, reason: string): Promise<{ lotId: string }> {
  const line = await work.tx.orderLine.findUnique({
    where: { holdId },
    include: { order: { include: { _count: { select: { lines: true } } } } },
  });
  if (line === null) throw new Refusal('This hold was already released or sold.', { status: 409 });
  const order = await lockOrder(work, line.orderId);
  if (order.stage !== 'held')
    throw new Refusal(
      `These pieces are packed for order ${order.number}. Take the order back to “Held” first.`,
      { status: 409 },
    );
  if (line.order._count.lines > 1) {
    await removeLine(work, order.id, line.id);
    return line;
  }
  await releaseLines(work, order.id, reason);
  await writeStage(work, order, { from: order.stage, to: 'cancelled', reason });
  return line;
}

/** A sale of one lot over the counter, out of a hold or not. */
export interface SingleSale extends NewSale {
  /** Of one piece, in minor units; undefined: what the lot or its order has. */
  priceMinor?: number | null;
}

/**
 * Sells pieces of one lot: a new order that is gone at once, or that of the hold.
 * @throws Refusal as `sellPieces`; 409 where the hold's order has other lots, or is packed
 */
export async function sellSingle(
  work: Work,
  timeZone: string,
  sale: SingleSale,
): Promise<{ id: string; pieces: number; orderId: string }> {
  const { siteId, priceMinor: price } = await lockLot(work.tx, sale.lotId);
  const { priceMinor = price, ...of } = sale;
  const { lotId, pieces, buyer, note, at } = sale;
  const line = sale.holdId === null ? null : await lineOfHold(work, sale.holdId);
  const sold = await sellPieces(work, of);
  if (line !== null) {
    const data = {
      holdId: null,
      saleId: sold.id,
      pieces,
      ...(sale.tagId === null ? {} : { tagId: sale.tagId }),
    };
    const priced = sale.priceMinor === undefined ? {} : { priceMinor: sale.priceMinor };
    await work.tx.orderLine.update({ where: { id: line.id }, data: { ...data, ...priced } });
    if (buyer !== '') await touchOrder(work, line.orderId, { buyer });
    await writeStage(work, line.order, { from: 'held', to: 'gone', reason: '' });
    return { ...sold, orderId: line.orderId };
  }
  const until = localDay(at, timeZone);
  const lines = [{ lotId, pieces, priceMinor }];
  const taken = { siteId, buyer, contact: '', note, until, despite: '', lines, hold: false };
  const order = await takeOrder(work, taken);
  await work.tx.orderLine.updateMany({
    where: { orderId: order.id },
    data: { saleId: sold.id, tagId: sale.tagId },
  });
  await writeStage(work, order, { from: 'asked', to: 'gone', reason: '' });
  return { ...sold, orderId: order.id };
}

async function lineOfHold(work: Work, holdId: string) {
  const line = await work.tx.orderLine.findUnique({
    where: { holdId },
    include: { order: { include: { _count: { select: { lines: true } } } } },
  });
  if (line === null)
    throw new Refusal('This hold was already released or sold.', { status: 409, field: 'hold' });
  const { order } = line;
  if (order._count.lines > 1 || order.stage !== 'held')
    throw new Refusal(
      `These pieces are part of order ${order.number}. Send or hand over the whole order on its page.`,
      { status: 409, field: 'hold' },
    );
  return line;
}

import type { SalesOrder } from '../../generated/prisma/client.ts';
import type { OrderStage } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { readerOf } from '../../platform/database/sql-reader.ts';
import { Refusal } from '../../platform/refusal.ts';
import { seenOf } from '../../platform/seen.ts';
import { passGate } from '../pests/gate.ts';
import { sellPieces, takeSaleBack } from '../sales/sales.ts';
import {
  boxOf,
  checkShipping,
  dropShipment,
  type NewShipment,
  refuseShipping,
  setShipment,
  shipmentOf,
} from '../shipping/shipments.ts';
import { stageRefusal } from './orders.rules.ts';
import { holdLines, lockOrder, releaseLines, writeStage } from './orders.ts';

/** A step of an order to another stage. */
export interface StageStep {
  to: OrderStage;
  /** Asked for where the order goes back or is called off. */
  reason: string;
  /** Why, although the water of a lot asks; '' where it is not said. */
  despite: string;
  version?: number;
}

/**
 * Takes an order to another stage, with what that does to its pieces: held, let go, sold, taken back.
 * @throws Refusal 404; 409 where it cannot go there, is not free, or something asks for a reason
 */
export async function setStage(work: Work, id: string, step: StageStep): Promise<SalesOrder> {
  const order = await lockOrder(work, id, step.version);
  const refused = stageRefusal(order.stage, step.to, step.reason);
  if (refused !== '')
    throw new Refusal(refused, { status: 409, field: refused === 'Say why.' ? 'reason' : '' });
  if (step.to === 'packed' && order.stage === 'held')
    throw new Refusal('Pack it on its page: each lot is ticked as it goes into the box.', { status: 409 });
  if (step.to === 'returned')
    throw new Refusal('Say on its page of each lot what came back.', { status: 409 });
  await doStep(work, order, step);
  await writeStage(work, order, { from: order.stage, to: step.to, reason: step.reason });
  return order;
}

async function doStep(work: Work, order: SalesOrder, { to, reason, despite }: StageStep): Promise<void> {
  const why = reason === '' ? `Order ${order.number}` : `Order ${order.number}: ${reason}`;
  if (order.stage === 'gone' && to === 'packed') {
    const lines = await linesOf(work, order.id);
    for (const { id, saleId } of lines) {
      if (saleId !== null) await takeSaleBack(work, saleId, why);
      await work.tx.orderLine.update({ where: { id }, data: { saleId: null } });
    }
    await holdLines(work, order, why);
    return;
  }
  if (to === 'held' && order.stage === 'asked') await holdLines(work, order, despite);
  if (to === 'asked' || to === 'cancelled') await releaseLines(work, order.id, why);
  if (to === 'gone' && order.stage !== 'settled') await sendLines(work, order, despite);
}

const linesOf = (work: Work, orderId: string) =>
  work.tx.orderLine.findMany({
    where: { orderId },
    include: { lot: { select: { code: true } } },
    orderBy: { position: 'asc' },
  });

/** Sells the pieces of every line out of its hold. */
async function sendLines(work: Work, order: SalesOrder, despite: string): Promise<void> {
  const shipment = await shipmentOf(work.tx, order.id);
  const box = shipment === null ? null : boxOf(shipment);
  refuseShipping(await checkShipping(readerOf(work.tx), order.id, box), shipment?.despite ?? '');
  const lines = await linesOf(work, order.id);
  const ids = lines.map(({ lotId }) => lotId);
  await work.tx.$queryRaw`SELECT id FROM lot WHERE id = ANY(${ids}::uuid[]) ORDER BY id FOR UPDATE`;
  for (const { id, lotId, pieces, holdId, tagId } of lines) {
    const sale = { lotId, pieces, tagId, holdId, despite, buyer: order.buyer };
    const note = `Order ${order.number}`;
    const { id: saleId } = await sellPieces(work, { ...sale, at: work.now, note });
    await work.tx.orderLine.update({ where: { id }, data: { saleId, holdId: null } });
  }
}

/** What is said when an order is packed. */
export interface Packing {
  /** Lines that lie in the box, by id. */
  packed: readonly string[];
  /** The box; null where the buyer comes for it. */
  box: NewShipment | null;
  /** Why, although the water of a lot asks. */
  despite: string;
  /** What was said of the box when the form was drawn, in a few signs; '' where nothing was. */
  boxSeen: string;
  version: number;
}

/**
 * Packs an order: every line is ticked, its water and its box are asked, the permit is compared with what is packed.
 * @throws Refusal 404; 409 where a line is not ticked, or something speaks against it and no reason is given
 */
export async function packOrder(work: Work, id: string, packing: Packing): Promise<SalesOrder> {
  const order = await lockOrder(work, id, packing.version);
  const refused = stageRefusal(order.stage, 'packed', '');
  if (refused !== '') throw new Refusal(refused, { status: 409 });
  const lines = await linesOf(work, id);
  const left = lines.filter((line) => !packing.packed.includes(line.id));
  if (left.length > 0)
    throw new Refusal(
      `Not ticked: ${left.map(({ lot }) => lot.code).join(', ')}. Tick each lot as it goes into the box, or take it off the order.`,
      { status: 409, field: 'packed' },
    );
  await refuseShort(work, id);
  const lots = lines.map(({ lotId, lot }) => ({ lotId, code: lot.code }));
  await passGate(work, 'sale', lots, { despite: packing.despite });
  if (packing.box === null) await dropShipment(work, id);
  else await setShipment(work, id, packing.box);
  const box = packing.box === null ? null : boxOf(packing.box);
  const check = await checkShipping(readerOf(work.tx), id, box);
  refuseShipping(check, packing.box?.despite ?? '');
  const { box: said } = check;
  const isRead = said === null || said.answer === 'fits' || packing.boxSeen === seenOf(said.lines);
  if (!isRead)
    throw new Refusal('Read what is said of the box, then send it once more.', { status: 409, field: 'box' });
  await writeStage(work, order, { from: order.stage, to: 'packed', reason: '' });
  return order;
}

/** Pieces may have been lost since they were promised. */
async function refuseShort(work: Work, id: string): Promise<void> {
  const short = await work.tx.$queryRaw<{ code: string; pieces: number; promised: number }[]>`
    SELECT lot.code, lot.pieces, sum(hold.pieces)::int AS promised
      FROM order_line AS line JOIN lot ON lot.id = line.lot_id JOIN hold ON hold.lot_id = lot.id AND hold.released_at IS NULL
     WHERE line.order_id = ${id}::uuid GROUP BY lot.id, line.position HAVING sum(hold.pieces) > lot.pieces ORDER BY line.position`;
  const [first] = short;
  if (first === undefined) return;
  throw new Refusal(
    `${first.code}: ${first.promised} are promised and ${first.pieces} are left. Some were lost since. Take fewer on an order first.`,
    { status: 409, field: 'packed' },
  );
}

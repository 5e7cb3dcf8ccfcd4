import type { SalesOrder } from '../../generated/prisma/client.ts';
import type { OrderStage } from '../../generated/prisma/enums.ts';
import type { Work } from '../../platform/change.ts';
import { notFound, Refusal, staleEdit } from '../../platform/refusal.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { usualHoldDays } from '../sales/holds.schema.ts';
import { addHolds, holdRefusal, releaseHold } from '../sales/holds.ts';
import { isOpenStage, STAGE_WORDS } from './orders.rules.ts';

/** Pieces of one lot that a buyer wants. */
export interface NewLine {
  lotId: string;
  pieces: number;
  /** Of one piece, in minor units; null: not priced. */
  priceMinor: number | null;
}

/** What a buyer wants. */
export interface NewOrder {
  siteId: string;
  buyer: string;
  contact: string;
  note: string;
  /** The last day, "2026-12-01". */
  until: string;
  lines: readonly NewLine[];
  /** Whether the pieces are held at once. */
  hold: boolean;
  /** Why, although their water asks; '' where it is not said. */
  despite: string;
}

/** An order as a journal line names it. */
export const orderSubject = (id: string) => ({ type: 'sales_order' as const, id });

/** A calendar day as the database keeps it. */
export const dayOf = (day: string) => new Date(`${day}T00:00:00Z`);

/** The order, locked until the change is done. @throws Refusal 404; 409 where the page was drawn from an older version */
export async function lockOrder(work: Work, id: string, version?: number): Promise<SalesOrder> {
  await work.tx.$queryRaw`SELECT id FROM sales_order WHERE id = ${id}::uuid FOR UPDATE`;
  const order = await work.tx.salesOrder.findUnique({ where: { id } });
  if (order === null) throw notFound('This order');
  if (version !== undefined && order.version !== version) throw staleEdit('this order');
  return order;
}

/** Counts the version of an order on, with what else changes of it. */
export const touchOrder = (work: Work, id: string, data: Partial<SalesOrder> = {}) =>
  work.tx.salesOrder.update({ where: { id }, data: { ...data, version: { increment: 1 } } });

/** Writes down who took an order to a stage. */
export async function writeStage(
  work: Work,
  order: Pick<SalesOrder, 'id' | 'number'>,
  { from, to, reason }: { from: OrderStage | null; to: OrderStage; reason: string },
): Promise<void> {
  await work.tx.orderStageChange.create({
    data: {
      orderId: order.id,
      fromStage: from,
      stage: to,
      reason,
      at: work.now,
      accountId: work.accountId,
    },
  });
  if (from === null) return;
  await touchOrder(work, order.id, { stage: to });
  const words = { number: order.number, from: STAGE_WORDS[from], to: STAGE_WORDS[to], reason };
  work.record('order.stage_set', orderSubject(order.id), words);
}

/**
 * Takes an order. Its pieces are held at once where that is wanted.
 * @throws Refusal when there are no lines, or fewer pieces are free than are to be held, or their water asks for a reason
 */
export async function takeOrder(
  work: Work,
  input: NewOrder,
): Promise<{ id: string; number: number; holdIds: string[] }> {
  if (input.lines.length === 0) throw new Refusal('Enter how many pieces of at least one lot.');
  const { siteId, buyer, contact, note } = input;
  // Two orders at once get two numbers: the second waits for the site's row.
  await work.tx.$queryRaw`SELECT id FROM site WHERE id = ${siteId}::uuid FOR NO KEY UPDATE`;
  const site = await work.tx.site.findUniqueOrThrow({ where: { id: siteId } });
  const last = await work.tx.salesOrder.aggregate({ where: { siteId }, _max: { number: true } });
  const order = await work.tx.salesOrder.create({
    data: {
      ...{ siteId, buyer, contact, note, number: (last._max.number ?? 0) + 1 },
      ...{ currency: site.currency, holdUntil: dayOf(input.until) },
      ...{ accountId: work.accountId, createdAt: work.now },
    },
  });
  await writeStage(work, order, { from: null, to: 'asked', reason: '' });
  const pieces = input.lines.reduce((sum, line) => sum + line.pieces, 0);
  work.record('order.taken', orderSubject(order.id), { number: order.number, pieces, until: input.until });
  await writeLines(work, order, input.lines);
  if (!input.hold) return { ...order, holdIds: [] };
  const holdIds = await holdLines(work, order, input.despite);
  await work.tx.salesOrder.update({ where: { id: order.id }, data: { stage: 'held' } });
  await work.tx.orderStageChange.create({
    data: {
      ...{ orderId: order.id, fromStage: 'asked', stage: 'held', at: work.now },
      accountId: work.accountId,
    },
  });
  return { ...order, holdIds };
}

async function writeLines(
  work: Work,
  order: Pick<SalesOrder, 'id'>,
  lines: readonly NewLine[],
): Promise<void> {
  const there = await work.tx.orderLine.findMany({ where: { orderId: order.id }, select: { lotId: true } });
  const known = new Set(there.map(({ lotId }) => lotId));
  if (
    lines.some(({ lotId }) => known.has(lotId)) ||
    new Set(lines.map(({ lotId }) => lotId)).size < lines.length
  )
    throw new Refusal('This lot is on the order already. Change its pieces there.', { status: 409 });
  await work.tx.orderLine.createMany({
    data: lines.map((line, i) => ({
      ...line,
      orderId: order.id,
      position: known.size + i + 1,
    })),
  });
}

/**
 * Holds the pieces of an order that are not held yet. Lots are locked in the order of their ids.
 * @throws Refusal as {@link addHolds}; 409 when fewer are free
 */
export async function holdLines(
  work: Work,
  order: Pick<SalesOrder, 'id' | 'number' | 'buyer' | 'holdUntil'>,
  despite: string,
): Promise<string[]> {
  const lines = await work.tx.orderLine.findMany({
    where: { orderId: order.id, holdId: null, saleId: null },
    orderBy: { position: 'asc' },
  });
  if (lines.length === 0) return [];
  const ids = lines.map(({ lotId }) => lotId);
  await work.tx.$queryRaw`SELECT id FROM lot WHERE id = ANY(${ids}::uuid[]) ORDER BY id FOR UPDATE`;
  const lots = await work.tx.lot.findMany({ where: { id: { in: ids } } });
  const held = await work.tx.hold.groupBy({
    by: ['lotId'],
    where: { lotId: { in: ids }, releasedAt: null },
    _sum: { pieces: true },
  });
  const lotOf = new Map(lots.map((lot) => [lot.id, lot]));
  for (const { lotId, pieces } of lines) {
    const lot = lotOf.get(lotId);
    const of = { pieces: lot?.pieces ?? 0, held: held.find((one) => one.lotId === lotId)?._sum.pieces ?? 0 };
    const refused = holdRefusal(of, pieces);
    if (refused !== '')
      throw new Refusal(`${lot?.code ?? ''}: ${refused}`, {
        status: 409,
        field: `pieces_${lot?.code ?? ''}`,
      });
  }
  const until = order.holdUntil.toISOString().slice(0, 10);
  const holds = lines.map(({ lotId, pieces }) => ({
    ...{ lotId, pieces, until, despite, note: `Order ${order.number}` },
    ...{ buyer: order.buyer, code: lotOf.get(lotId)?.code ?? '' },
  }));
  const made = await addHolds(work, holds);
  for (const [i, { id }] of lines.entries())
    await work.tx.orderLine.update({ where: { id }, data: { holdId: made[i] ?? null } });
  return made;
}

/** Lets go of everything that is held for an order. */
export async function releaseLines(work: Work, orderId: string, reason: string): Promise<void> {
  const lines = await work.tx.orderLine.findMany({ where: { orderId, holdId: { not: null } } });
  for (const { id, holdId } of lines) {
    if (holdId !== null) await releaseHold(work, holdId, reason);
    await work.tx.orderLine.update({ where: { id }, data: { holdId: null } });
  }
}

/** What can be changed of an order besides its lines and prices. */
export interface OrderEdit {
  buyer: string;
  contact: string;
  note: string;
  until: string;
  version: number;
}

/** @throws Refusal 404; 409 on a stale edit, or where the order is over */
export async function editOrder(work: Work, id: string, edit: OrderEdit): Promise<void> {
  const order = await lockOrder(work, id, edit.version);
  const { buyer, contact, note, until } = edit;
  const holdUntil = dayOf(until);
  await touchOrder(work, id, { buyer, contact, note, holdUntil });
  await work.tx.hold.updateMany({
    where: { line: { orderId: id }, releasedAt: null },
    data: { until: holdUntil, buyer },
  });
  work.record('order.changed', orderSubject(id), {
    number: order.number,
    before: {
      ...{ buyer: order.buyer, contact: order.contact, note: order.note },
      until: order.holdUntil.toISOString().slice(0, 10),
    },
    after: { buyer, contact, note, until },
  });
}

function refuseOver(order: SalesOrder, what: string): void {
  if (order.stage === 'asked' || order.stage === 'held') return;
  throw new Refusal(
    `${what} only while an order is requested or held. This one is “${STAGE_WORDS[order.stage]}”: take it back first.`,
    { status: 409 },
  );
}

/** Adds pieces of further lots; they are held where the order is. @throws Refusal as {@link takeOrder} */
export async function addLines(
  work: Work,
  id: string,
  { lines, despite }: { lines: readonly NewLine[]; despite: string },
): Promise<{ number: number }> {
  if (lines.length === 0) throw new Refusal('Enter how many pieces of at least one lot.');
  const order = await lockOrder(work, id);
  refuseOver(order, 'Lots are added');
  await writeLines(work, order, lines);
  if (order.stage === 'held') await holdLines(work, order, despite);
  await touchOrder(work, id);
  const pieces = lines.reduce((sum, line) => sum + line.pieces, 0);
  work.record('order.lines_changed', orderSubject(id), { number: order.number, added: pieces });
  return order;
}

/** Takes a lot off an order; its pieces are free again. @throws Refusal 404, 409 */
export async function removeLine(work: Work, id: string, lineId: string, version?: number): Promise<void> {
  const order = await lockOrder(work, id, version);
  refuseOver(order, 'Lots are taken off');
  const line = await work.tx.orderLine.findFirst({
    where: { id: lineId, orderId: id },
    include: { lot: { select: { code: true } } },
  });
  if (line === null) throw notFound('This line of the order');
  if ((await work.tx.orderLine.count({ where: { orderId: id } })) === 1)
    throw new Refusal('That is the only lot on this order. Cancel the order instead.', { status: 409 });
  await work.tx.orderLine.delete({ where: { id: lineId } });
  if (line.holdId !== null) await releaseHold(work, line.holdId, `Taken off order ${order.number}`);
  await touchOrder(work, id);
  work.record('order.lines_changed', orderSubject(id), {
    ...{ number: order.number, code: line.lot.code, removed: line.pieces },
  });
}

/** Prices of an order: of each line by its id, and its free line. */
export interface Prices {
  lines: ReadonlyMap<string, number | null>;
  freeLine: string;
  freeLineMinor: number | null;
  version: number;
}

/** Sets the prices of an order. @throws Refusal 404; 409 on a stale edit */
export async function priceOrder(work: Work, id: string, prices: Prices): Promise<void> {
  const order = await lockOrder(work, id, prices.version);
  if (!isOpenStage(order.stage) && order.stage !== 'gone')
    throw new Refusal(
      `Prices stay as they were once an order is “${STAGE_WORDS[order.stage]}”. Take it back first.`,
      { status: 409 },
    );
  const { freeLine, freeLineMinor } = prices;
  for (const [lineId, priceMinor] of prices.lines)
    await work.tx.orderLine.updateMany({ where: { id: lineId, orderId: id }, data: { priceMinor } });
  await touchOrder(work, id, { freeLine, freeLineMinor });
  work.record('order.priced', orderSubject(id), {
    ...{ number: order.number, pieces: prices.lines.size, freeLine, freeLineMinor },
  });
}

/** The last day on which pieces are held where nobody says another. */
export const usualUntil = (now: Date): Date => daysAfter(now, usualHoldDays);

/** Sets the tag of a line's pieces. The caller has issued it. */
export async function setLineTag(work: Work, lineId: string, tagId: string): Promise<void> {
  await work.tx.orderLine.update({ where: { id: lineId }, data: { tagId } });
}

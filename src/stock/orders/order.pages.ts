import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { may } from '../../platform/web/access.ts';
import { optionalText, text, version, whole } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { inputAmount, priceOf } from '../../platform/words/money.ts';
import { ticksText } from '../base/ticks.ts';
import { picturesOf } from '../files/attached-files.ts';
import { findLot } from '../lots/lots.ts';
import { gateRefusals } from '../pests/gate.ts';
import { lotsToAsk } from '../places/emptied-slots.ts';
import { lotReadiness } from '../sales/readiness.ts';
import { shippingView } from '../shipping/view.ts';
import { STAGE_WORDS, waysFrom } from './orders.rules.ts';
import { editSchema, pricesSchema, stageSchema } from './orders.schema.ts';
import { addLines, editOrder, priceOrder, removeLine } from './orders.ts';
import { setStage } from './stages.ts';
import { type OrderState, orderState } from './state.ts';
import { againOf, headOf, lineView, orderHref, stepsOf } from './view.ts';

/** One order: its lots, prices and stages. */
export function orderPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/orders/:id', (request, reply) => showOrder(service, request, reply));
  app.get('/stock/orders/:id/change', (request, reply) => showChange(service, request, reply));
  app.post(
    '/stock/orders/:id',
    takes(({ today }) => editSchema(today, today)),
    (request, reply) => postChange(service, request, reply),
  );
  app.post('/stock/orders/:id/lines', takes(lineSchema), (request, reply) =>
    postLine(service, request, reply),
  );
  app.post('/stock/orders/:id/lines/:lineId/removal', takes(removalBody), (request, reply) =>
    postRemoval(service, request, reply),
  );
  app.get('/stock/orders/:id/prices', (request, reply) => showPrices(service, request, reply));
  app.post(
    '/stock/orders/:id/prices',
    takes(({ site }) => pricesSchema(['ID-OF-LINE'], site.currency)),
    (request, reply) => postPrices(service, request, reply),
  );
  app.post('/stock/orders/:id/stage', takes(stageSchema), (request, reply) =>
    postStage(service, request, reply),
  );
}

const orderId = (request: FastifyRequest) => pathId(request, 'id', 'This order');

/** Buttons that take an order on, and those that take it back or end it. */
const BUTTONS: Partial<Record<string, string>> = {
  held: 'Hold the pieces',
  gone: 'Mark as sent',
  settled: 'Mark as paid',
};
const BACK_BUTTONS: Partial<Record<string, string>> = {
  asked: 'Release the pieces',
  held: 'Unpack it',
  packed: 'Undo: it was not sent',
  gone: 'Undo: it is not paid',
  cancelled: 'Cancel the order',
};

function waysOf({ stage }: OrderState, isManager: boolean) {
  const ways = waysFrom(stage).filter(({ stage: to }) => isManager || to !== 'settled');
  const named = (asksWhy: boolean, names: Partial<Record<string, string>>) =>
    ways.flatMap(({ stage: to, asksWhy: why }) =>
      why === asksWhy && names[to] !== undefined ? [{ to, text: names[to] }] : [],
    );
  const back = named(true, BACK_BUTTONS).map((one) =>
    stage === 'cancelled' ? { ...one, text: 'Open it again' } : one,
  );
  return {
    on: named(false, BUTTONS),
    back,
    maySayPacked: stage === 'held',
    mayReturn: stage === 'gone' || stage === 'settled',
  };
}

/** What speaks against selling the lots of an order that has not left, by lot. */
export async function cautionsOf(service: Service, request: FastifyRequest, order: OrderState) {
  if (order.stage !== 'asked' && order.stage !== 'held' && order.stage !== 'packed') return new Map();
  const { id: siteId, timeZone } = request.site;
  const lotIds = order.lines.map(({ lotId }) => lotId);
  const all = await lotReadiness(service.pool, { siteId, timeZone, lotIds }, service.now());
  // That all pieces are held says nothing against the order for which they are.
  return new Map(all.map(({ id, reasons }) => [id, reasons.filter(({ what }) => what !== 'count')]));
}

/** Stages of which the pieces are off their slots. */
const HAS_LEFT: ReadonlySet<OrderState['stage']> = new Set(['gone', 'settled', 'returned']);

/** The page of an order; with a form of it that was refused. */
export async function showOrder(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const order = await orderState(service.pool, orderId(request));
  const isManager = may(request.person.role, 'manager');
  const lots = order.lines.map(({ lotId, code }) => ({ id: lotId, code }));
  const open = headOf(order).isOpen;
  const gate = open
    ? await gateRefusals(service.pool, lots, order.stage === 'asked' ? 'hold' : 'sale', '')
    : new Map<string, string>();
  const cautions = await cautionsOf(service, request, order);
  const data = {
    order,
    ...headOf(order),
    steps: stepsOf(order),
    lines: order.lines.map((line) => ({
      ...lineView(line, order),
      water: gate.get(line.lotId) ?? '',
      reasons: cautions.get(line.lotId) ?? [],
    })),
    freeAmount: priceWordsOf(order),
    ways: waysOf(order, isManager),
    asks: [...gate.values()].some((why) => why !== ''),
    mayEditLines: order.stage === 'asked' || order.stage === 'held',
    stages: order.stages.map((step) => ({ ...step, words: STAGE_WORDS[step.stage] })),
    ticked: ticksText(order.lines.map(({ code }) => code)),
    hasTags: order.lines.every(({ tagId }) => tagId !== null),
    tagIds: order.lines.flatMap(({ tagId }) => (tagId === null ? [] : [tagId])),
    isOnlyLine: order.lines.length === 1,
    emptied: HAS_LEFT.has(order.stage)
      ? await lotsToAsk(service.pool, request.site.id, { lotIds: lots.map(({ id }) => id) })
      : [],
    shipping: await shippingView(service.pool, order, service.now()),
    pictures: await picturesOf(service.db, 'sales_order', order.id),
  };
  const form =
    refused ??
    freshForm({
      reason: '',
      despite: '',
      code: '',
      pieces: 1,
      species: '',
      permitPieces: '',
      document: '',
      sourceCode: '',
    });
  const title = `Order ${order.number}`;
  return showPage(service, request, reply, 'stock/order', data, { title, area: 'stock', form });
}

function priceWordsOf({ freeLineMinor, currency }: OrderState): string {
  const known = priceOf(freeLineMinor, currency);
  return known === null ? '' : `${known.currency} ${inputAmount(known)}`;
}

async function showChange(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const order = await orderState(service.pool, orderId(request));
  const { buyer, contact, note, until, version: seen } = order;
  const form = againOf(refused, reply, order) ?? freshForm({ buyer, contact, note, until, version: seen });
  const data = { order, action: orderHref(order.id) };
  const title = `Change order ${order.number}`;
  return showPage(service, request, reply, 'stock/order-change', data, { title, area: 'stock', form });
}

async function postChange(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = orderId(request);
  const { until } = await orderState(service.pool, id);
  const today = localDay(service.now(), request.site.timeZone);
  return submit(request, reply, {
    schema: editSchema(today, until),
    act: (work, value) => editOrder(work, id, value),
    done: () => ({ to: orderHref(id), notice: 'The order is changed.' }),
    again: (form) => showChange(service, request, reply, form),
  });
}

const lineSchema = z.object({
  code: text('the code of the lot', 60),
  pieces: whole({ what: 'how many pieces', low: 1, high: 100_000 }),
  despite: optionalText(500),
});

async function postLine(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = orderId(request);
  return submit(request, reply, {
    schema: lineSchema,
    act: async (work, { code, pieces, despite }) => {
      const lot = await findLot(work.tx, code, request.site.id);
      return addLines(work, id, { lines: [{ lotId: lot.id, pieces, priceMinor: lot.priceMinor }], despite });
    },
    done: () => ({ to: orderHref(id), notice: 'The lot is on the order.' }),
    again: (form) => showOrder(service, request, reply, form),
  });
}

const removalBody = z.object({ version: version() });

async function postRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = orderId(request);
  const lineId = pathId(request, 'lineId', 'This line of the order');
  return submit(request, reply, {
    schema: removalBody,
    act: (work, { version: seen }) => removeLine(work, id, lineId, seen),
    done: () => ({ to: orderHref(id), notice: 'The lot is off the order.' }),
    again: (form) => showOrder(service, request, reply, form),
  });
}

async function showPrices(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const order = await orderState(service.pool, orderId(request));
  const amount = (minor: number | null) => {
    const known = priceOf(minor, order.currency);
    return known === null ? '' : inputAmount(known);
  };
  const form =
    againOf(refused, reply, order) ??
    freshForm({
      ...Object.fromEntries(order.lines.map(({ id, priceMinor }) => [`price_${id}`, amount(priceMinor)])),
      ...{ freeLine: order.freeLine, freeAmount: amount(order.freeLineMinor), version: order.version },
    });
  const data = {
    order,
    lines: order.lines.map((line) => ({
      ...lineView(line, order),
      field: `price_${line.id}`,
      typed: form.typed[`price_${line.id}`],
    })),
  };
  const title = `Prices of order ${order.number}`;
  return showPage(service, request, reply, 'stock/order-prices', data, { title, area: 'stock', form });
}

async function postPrices(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = orderId(request);
  const { lines, currency } = await orderState(service.pool, id);
  return submit(request, reply, {
    schema: pricesSchema(
      lines.map((line) => line.id),
      currency,
    ),
    act: (work, value) => priceOrder(work, id, value),
    done: () => ({ to: orderHref(id), notice: 'The prices are set.' }),
    again: (form) => showPrices(service, request, reply, form),
  });
}

const NOTICES: Partial<Record<string, string>> = {
  asked: 'The pieces are free again. The order is still requested.',
  held: 'The pieces are held.',
  packed: 'Not sent: the pieces are on the count and promised again. See that each has a place.',
  gone: 'Sent: the pieces are off the count.',
  settled: 'Paid.',
  cancelled: 'The order is cancelled. Nothing is held for it.',
};

async function postStage(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = orderId(request);
  return submit(request, reply, {
    schema: stageSchema.refine(({ to }) => to !== 'settled' || may(request.person.role, 'manager'), {
      message: 'Only a manager can mark an order as paid.',
      path: ['to'],
    }),
    act: (work, step) => setStage(work, id, step),
    done: (_, { to }) => ({ to: orderHref(id), notice: NOTICES[to] ?? 'Saved.' }),
    again: (form) => showOrder(service, request, reply, form),
  });
}

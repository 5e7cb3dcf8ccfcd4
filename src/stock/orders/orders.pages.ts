import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { may } from '../../platform/web/access.ts';
import { backOf } from '../../platform/web/back.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { inputAmount, priceOf } from '../../platform/words/money.ts';
import { lotHref } from '../base/lot-href.ts';
import { ticksOf, ticksText, withTicks } from '../base/ticks.ts';
import { type TickedLot, tickedLots } from '../lots/ticked-lots.ts';
import { gateRefusals } from '../pests/gate.ts';
import { lotReadiness } from '../sales/readiness.ts';
import { newOrderSchema } from './orders.schema.ts';
import { addLines, takeOrder, usualUntil } from './orders.ts';
import { listOrders, openOrderChoices } from './state.ts';
import { orderHref, rowOf } from './view.ts';

/** The list of orders, and taking a new one. */
export function ordersPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/orders', (request, reply) => showOrders(service, request, reply));
  app.get('/stock/orders/new', (request, reply) => showNew(service, request, reply));
  app.post(
    '/stock/orders',
    takes(({ site, today }) =>
      newOrderSchema({
        lots: [{ id: '', code: 'CODE', priceMinor: null }],
        currency: site.currency,
        mayPrice: true,
        today,
      }),
    ),
    (request, reply) => postNew(service, request, reply),
  );
}

const pageLength = 50;

/** Parts of the list, each with its stages. */
const PARTS = [
  { part: 'open', text: 'Open', stages: ['asked', 'held', 'packed'] },
  { part: 'gone', text: 'Sent', stages: ['gone'] },
  { part: 'over', text: 'Paid, returned or cancelled', stages: ['settled', 'returned', 'cancelled'] },
] as const;

async function showOrders(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const query = request.query as { part?: string; page?: unknown };
  const shown = PARTS.find(({ part }) => part === query.part) ?? PARTS[0];
  const page = pageNumber(0).parse(query.page);
  const { id: siteId, timeZone } = request.site;
  const orders = await listOrders(service.pool, siteId, shown.stages, {
    skip: page * pageLength,
    take: pageLength + 1,
  });
  const today = localDay(service.now(), timeZone);
  const hrefOf = (at: number) => `/stock/orders?part=${shown.part}&page=${at}`;
  const data = {
    parts: PARTS.map(({ part, text }) => ({
      text,
      href: `/stock/orders?part=${part}`,
      current: part === shown.part,
    })),
    orders: orders.slice(0, pageLength).map((order) => rowOf(order, today, timeZone)),
    pager: {
      newer: page > 0 ? hrefOf(page - 1) : null,
      older: orders.length > pageLength ? hrefOf(page + 1) : null,
    },
  };
  return showPage(service, request, reply, 'stock/orders', data, { title: 'Orders', area: 'stock' });
}

const askedLots = (service: Service, request: FastifyRequest, asked: unknown) =>
  tickedLots(service.pool, request.site.id, ticksOf(asked));

const mayPrice = (request: FastifyRequest) => may(request.person.role, 'manager');

function freshOf(service: Service, request: FastifyRequest, lots: readonly TickedLot[]): FormState {
  const { currency, timeZone } = request.site;
  const fields = lots.map(({ code, pieces, held, priceMinor }) => {
    const known = priceOf(priceMinor, currency);
    return {
      [`pieces_${code}`]: pieces > held ? 1 : 0,
      [`price_${code}`]: known === null ? '' : inputAmount(known),
    };
  });
  const until = localDay(usualUntil(service.now()), timeZone);
  return freshForm({
    order: '',
    buyer: '',
    contact: '',
    note: '',
    despite: '',
    until,
    ...Object.assign({}, ...fields),
  });
}

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const lots = await askedLots(service, request, refused === undefined ? request.query : request.body);
  const { id: siteId, timeZone, currency } = request.site;
  const form = refused ?? freshOf(service, request, lots);
  const gate = await gateRefusals(service.pool, lots, 'hold', '');
  const asked = { siteId, timeZone, lotIds: lots.map(({ id }) => id) };
  const ready = new Map((await lotReadiness(service.pool, asked, service.now())).map((one) => [one.id, one]));
  const codes = lots.map(({ code }) => code);
  const back = backOf(request) ?? '/stock/ready';
  const data = {
    lots: lots.map((lot) => ({
      ...lot,
      href: lotHref(lot.code),
      free: lot.pieces - lot.held,
      typed: form.typed[`pieces_${lot.code}`],
      typedPrice: form.typed[`price_${lot.code}`],
      water: gate.get(lot.id) ?? '',
      reasons: ready.get(lot.id)?.reasons ?? [],
    })),
    mayPrice: mayPrice(request),
    currency,
    asks: [...gate.values()].some((why) => why !== ''),
    orders: await openOrderChoices(service.pool, siteId),
    ticked: ticksText(codes),
    back,
    backHref: withTicks(back, codes),
    scanHref: withTicks('/scan?mode=tick', codes),
  };
  const options = { title: 'New order', area: 'stock', form } as const;
  return showPage(service, request, reply, 'stock/order-new', data, options);
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const lots = await askedLots(service, request, request.body);
  const { id: siteId, timeZone, currency } = request.site;
  const today = localDay(service.now(), timeZone);
  return submit(request, reply, {
    schema: newOrderSchema({ lots, currency, mayPrice: mayPrice(request), today }),
    act: async (work, { order, ...input }) => {
      if (order === null) return takeOrder(work, { siteId, ...input });
      return { id: order, ...(await addLines(work, order, input)) };
    },
    done: ({ id, number }, { order, hold, buyer }) => ({
      to: orderHref(id),
      notice:
        order !== null
          ? `The lots are on order ${number}.`
          : hold
            ? `Held for ${buyer}: the pieces of order ${number}.`
            : `Order ${number} is noted. Nothing is held yet.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

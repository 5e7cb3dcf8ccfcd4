import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { optionalChosen, optionalText, whole } from '../../platform/web/fields.ts';
import { submit } from '../../platform/web/forms.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { dateWords } from '../../platform/words/times.ts';
import { daysAfter } from '../../science/numeric/time.ts';
import { lotHref } from '../base/lot-href.ts';
import { findLot } from '../lots/lots.ts';
import { type LotOrder, ordersOfHolds } from '../orders/lot-orders.ts';
import { holdPieces, letGo, sellSingle } from '../orders/single.ts';
import { orderHref } from '../orders/view.ts';
import { holdSchema, usualHoldDays } from '../sales/holds.schema.ts';
import { openHolds } from '../sales/holds.ts';
import { lotReadiness } from '../sales/readiness.ts';
import { type LotForm, type LotFormContext, lotForm } from './lot-form.ts';

/** Keeping pieces back for buyers, and selling them. */
export function salePages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, holdForm);
  lotForm(app, service, saleForm);
  app.post('/holds/:id/release', takes(releaseSchema), (request, reply) =>
    postRelease(service, request, reply),
  );
}

const pieces = whole({ what: 'how many pieces', low: 1, high: 100_000 });

/** A sale, as forms and JSON bring it. */
const saleSchema = (timeZone: string, now: Date) =>
  z.object({
    pieces,
    buyer: optionalText(200),
    hold: optionalChosen(),
    note: optionalText(500),
    despite: optionalText(500),
    at: pastMoment(timeZone, now),
  });

/** The reasons against selling and the open holds: shown beside both forms. */
async function saleView({ service, lot, now, timeZone, request }: LotFormContext) {
  const ask = { siteId: request.site.id, timeZone, lotIds: [lot.id] };
  const [[readiness], holds] = await Promise.all([
    lotReadiness(service.pool, ask, now),
    openHolds(service.db, lot.id),
  ]);
  const orders = await ordersOfHolds(service.pool, lot.id);
  return {
    note: lot.note,
    reasons: readiness?.reasons ?? [],
    holds: holds.map(({ id, buyer, pieces: kept, until }) => ({
      id,
      ...orderOf(orders.get(id), `${lotHref(lot.code)}/sale?hold=${id}`),
      buyer,
      words: `${plural(kept, 'piece', 'pieces')} for ${buyer} until ${dateWords(until.toISOString().slice(0, 10), timeZone)}`,
    })),
  };
}

/** A hold's order; with other lots on it, or packed, it is handed over there and not here. */
function orderOf(order: LotOrder | undefined, saleHref: string) {
  if (order === undefined) return { order: null, saleHref };
  const alone = order.lots === 1 && order.stage === 'held';
  const href = orderHref(order.id);
  return { order: { href, number: order.number }, saleHref: alone ? saleHref : href };
}

const holdForm: LotForm<ReturnType<typeof holdSchema>, { id: string }> = {
  page: 'hold',
  resource: 'holds',
  gate: 'hold',
  view: 'stock/hold',
  title: () => 'Hold for a buyer',
  schema: ({ timeZone, now }) => holdSchema(localDay(now, timeZone)),
  fresh: ({ timeZone, now }) => ({
    pieces: 1,
    buyer: '',
    until: localDay(daysAfter(now, usualHoldDays), timeZone),
    note: '',
    despite: '',
  }),
  data: saleView,
  act: (work, { lot }, value) => holdPieces(work, { lotId: lot.id, ...value }),
  done: (_, { lot }) => ({ to: lotHref(lot.code), notice: 'The pieces are kept back.' }),
};

/** The hold that a sale most likely is for: the one asked for, else the only one there is. */
function ownHold<H extends { id: string }>(holds: readonly H[], query: unknown): H | undefined {
  const { hold: asked } = (query ?? {}) as { hold?: string };
  if (asked !== undefined) return holds.find(({ id }) => id === asked);
  return holds.length === 1 ? holds[0] : undefined;
}

const saleForm: LotForm<ReturnType<typeof saleSchema>, { id: string; pieces: number }> = {
  page: 'sale',
  resource: 'sales',
  gate: 'sale',
  view: 'stock/sale',
  title: () => 'Sell',
  schema: ({ timeZone, now }) => saleSchema(timeZone, now),
  fresh: async ({ service, lot, request }) => {
    const own = ownHold(await openHolds(service.db, lot.id), request.query);
    const held = own === undefined ? {} : { pieces: own.pieces, buyer: own.buyer, hold: own.id };
    return { pieces: 1, buyer: '', hold: '', note: '', at: '', despite: '', ...held };
  },
  data: saleView,
  act: (work, { lot, timeZone }, { hold, ...value }) =>
    sellSingle(work, timeZone, { lotId: lot.id, ...value, tagId: null, holdId: hold }),
  done: ({ pieces: left }, { lot }) => ({
    to: lotHref(lot.code),
    notice:
      left === 0
        ? `Sold. No pieces of ${lot.code} are left.`
        : `Sold. ${plural(left, 'piece is', 'pieces are')} left.`,
  }),
};

const releaseSchema = z.object({ reason: optionalText(300) });

async function postRelease(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This hold');
  return submit(request, reply, {
    schema: releaseSchema,
    act: async (work, { reason }) => {
      const { lotId } = await letGo(work, id, reason === '' ? 'Released' : reason);
      return findLot(service.db, lotId);
    },
    done: (lot) => ({ to: lotHref(lot.code), notice: 'The pieces are free again.' }),
    again: ({ errors }) => {
      request.session.set('notice', errors[0]?.message);
      return reply.redirect('/stock/ready', 303);
    },
  });
}

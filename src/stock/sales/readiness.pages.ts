import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { mmWords } from '../../platform/units/measures.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { pageNumber } from '../../platform/web/fields.ts';
import { showPage } from '../../platform/web/pages.ts';
import { priceWords } from '../../platform/words/money.ts';
import { lotHref } from '../base/lot-href.ts';
import { tickBar, ticksOf, withTicks } from '../base/ticks.ts';
import { type ListedLot, listLots } from '../lots/search.ts';
import { placeDrawing } from '../places/place-drawing.ts';
import { lotReadiness, type Readiness } from './readiness.ts';
import { readyPage } from './ready.ts';

/** The lots that are ready to sell, and the others with their reasons. */
export function readinessPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/ready', (request, reply) => showReady(service, request, reply));
}

const perPage = 30;
const parts = ['ready', 'not'] as const;
const querySchema = z.object({
  part: z.enum(parts).catch('ready'),
  page: pageNumber(),
});

const hrefOf = (part: string, page: number) => `/stock/ready?part=${part}${page > 1 ? `&page=${page}` : ''}`;

function rowOf(lot: Readiness, { face, drawn, name, isMother }: ListedLot, ticked: readonly string[]) {
  return {
    ...lot,
    ticked: ticked.includes(lot.code),
    ...{ face, name, isMother },
    placeDrawing: drawn === null ? '' : placeDrawing(drawn),
    free: lot.pieces - lot.held,
    size: lot.sizeMm === null ? '' : mmWords(lot.sizeMm),
    price: lot.price === null ? '' : priceWords(lot.price),
    href: lotHref(lot.code),
    tagHref: `/tags/new?lot=${lot.code}`,
  };
}

async function showReady(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { part, page } = querySchema.parse(request.query);
  const ticked = ticksOf(request.query);
  const { id: siteId, timeZone } = request.site;
  const [now, isReady] = [service.now(), part === 'ready'];
  const { sum, ids } = await readyPage(service.pool, siteId, { ready: isReady, page, perPage }, now);
  const [facts, listed] = await Promise.all([
    lotReadiness(service.pool, { siteId, timeZone, lotIds: ids }, now),
    listLots(service.pool, ids, now),
  ]);
  const shown = new Map(facts.map((lot) => [lot.id, lot]));
  const lots = listed.flatMap((lot) => {
    const own = shown.get(lot.id);
    return own === undefined ? [] : [rowOf(own, lot, ticked)];
  });
  const data = {
    ready: sum,
    inStock: sum.inStock,
    notReady: sum.inStock - sum.lots,
    parts: [
      { text: 'Ready to sell', href: withTicks(hrefOf('ready', 1), ticked), current: part === 'ready' },
      { text: 'Not ready, and why', href: withTicks(hrefOf('not', 1), ticked), current: part === 'not' },
    ],
    isReady,
    part,
    lots,
    ticks: tickBar(
      ticked,
      lots.map(({ code }) => code),
      hrefOf(part, page),
    ),
    pager: pagerOf({ page, perPage, total: isReady ? sum.lots : sum.inStock - sum.lots }, (other) => other),
  };
  const scripts = ['/assets/ticking.js'];
  return showPage(service, request, reply, 'stock/ready', data, {
    title: 'Ready to sell',
    area: 'stock',
    scripts,
  });
}

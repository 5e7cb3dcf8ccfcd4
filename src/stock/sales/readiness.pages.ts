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
import { isReady, lotReadiness, type Readiness, readySum } from './readiness.ts';

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
  const all = await lotReadiness(service.pool, { siteId, timeZone }, service.now());
  const matching = all.filter((lot) => isReady(lot) === (part === 'ready'));
  const begin = (page - 1) * perPage;
  const shown = matching.slice(begin, begin + perPage);
  const listed = await listLots(
    service.pool,
    shown.map(({ id }) => id),
    service.now(),
  );
  const sum = readySum(all);
  const data = {
    ready: sum,
    inStock: all.length,
    notReady: all.length - sum.lots,
    parts: [
      { text: 'Ready to sell', href: withTicks(hrefOf('ready', 1), ticked), current: part === 'ready' },
      { text: 'Not ready, and why', href: withTicks(hrefOf('not', 1), ticked), current: part === 'not' },
    ],
    isReady: part === 'ready',
    part,
    lots: shown.map((lot, index) => rowOf(lot, listed[index] as ListedLot, ticked)),
    ticks: tickBar(
      ticked,
      shown.map(({ code }) => code),
      hrefOf(part, page),
    ),
    pager: pagerOf({ page, perPage, total: matching.length }, (other) => other),
  };
  const scripts = ['/assets/ticking.js'];
  return showPage(service, request, reply, 'stock/ready', data, {
    title: 'Ready to sell',
    area: 'stock',
    scripts,
  });
}

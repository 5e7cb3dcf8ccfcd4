import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { monthWords } from '../../platform/words/times.ts';
import { lossTables } from '../shipping/results.rules.ts';
import { arrivedBoxes, boxesUnheardOf } from '../shipping/results.ts';
import { monthTotals } from './totals.ts';
import { amountWords, orderHref } from './view.ts';

/** What was sold by month and kind, and what was lost on the way. */
export function totalsPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/orders/totals', (request, reply) => showTotals(service, request, reply));
  app.get('/stock/orders/arrivals', (request, reply) => showArrivals(service, request, reply));
}

async function showTotals(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const totals = await monthTotals(service.pool, request.site.id);
  const months = [...Map.groupBy(totals, ({ month, currency }) => `${month} ${currency ?? ''}`)].map(
    ([, rows]) => {
      const sum = (pick: (row: (typeof rows)[number]) => number) =>
        rows.reduce((all, row) => all + pick(row), 0);
      const currency = rows[0]?.currency ?? null;
      const words = (minor: number) => (currency === null ? '' : amountWords(minor, currency));
      return {
        name: monthWords(rows[0]?.month ?? ''),
        rows: rows.map((row) => ({ ...row, amount: words(row.minor), back: words(row.backMinor) })),
        pieces: sum((row) => row.pieces),
        unpriced: sum((row) => row.unpriced),
        backPieces: sum((row) => row.backPieces),
        amount: words(sum((row) => row.minor)),
        back: words(sum((row) => row.backMinor)),
        left: words(sum((row) => row.minor - row.backMinor)),
      };
    },
  );
  const data = { months };
  return showPage(service, request, reply, 'stock/order-totals', data, {
    title: 'Sales by month',
    area: 'stock',
  });
}

async function showArrivals(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id: siteId } = request.site;
  const boxes = await arrivedBoxes(service.pool, siteId);
  const unheard = await boxesUnheardOf(service.pool, siteId);
  const data = {
    tables: lossTables(boxes),
    unheard: unheard.map((one) => ({ ...one, href: orderHref(one.id) })),
  };
  return showPage(service, request, reply, 'stock/order-arrivals', data, {
    title: 'How boxes arrived',
    area: 'stock',
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { pagerOf } from '../../platform/views/pager.ts';
import { showPage } from '../../platform/web/pages.ts';
import { capitalized } from '../../platform/words/capitals.ts';
import { priceWords } from '../../platform/words/money.ts';
import { plural } from '../../platform/words/numbers.ts';
import { readCode } from '../base/codes.ts';
import { lotHref } from '../base/lot-href.ts';
import { tickBar, ticksOf, withTicks } from '../base/ticks.ts';
import { listGroups } from '../kinds/kinds.ts';
import { placeDrawing } from '../places/place-drawing.ts';
import { lotQuerySchema } from './lots.schema.ts';
import { existingCode } from './lots.ts';
import { findLots, type ListedLot, type LotSet } from './search.ts';

/** The list of lots, and the search in it. */
export function searchPages(app: FastifyInstance, service: Service): void {
  app.get('/stock', (request, reply) => showStock(service, request, reply));
}

const sets: { only: LotSet; text: string }[] = [
  { only: 'all', text: 'All' },
  { only: 'mothers', text: 'Mothers' },
  { only: 'unplaced', text: 'No slot yet' },
  { only: 'alerts', text: 'With alerts' },
  { only: 'gone', text: 'Sold out or lost' },
];

interface ListQuery {
  q: string;
  only: LotSet;
  group: string | null;
  page: number;
}

function hrefOf({ q, only, group, page }: ListQuery): string {
  const query = new URLSearchParams();
  if (q !== '') query.set('q', q);
  if (only !== 'all') query.set('only', only);
  if (group !== null) query.set('group', group);
  if (page > 1) query.set('page', String(page));
  return query.size === 0 ? '/stock' : `/stock?${query}`;
}

/** Six characters with a digit or a hyphen among them are taken for a mistyped code. */
const codeLike = /^(?=.*[\d-])[\p{L}\d]{3}[\s-]?[\p{L}\d]{3}$/u;

function emptyWords({ q, only }: ListQuery): { what: string; todo: string } {
  if (q !== '') {
    const read = readCode(q);
    const todo =
      codeLike.test(q) && !read.ok
        ? read.message
        : 'Try fewer or shorter words: part of a code, a kind, any name it ever had, a tank, a rack or a slot.';
    return { what: `Nothing fits “${q}”${only === 'all' ? '' : ' in this part of the stock'}.`, todo };
  }
  if (only === 'alerts') return { what: 'No lot has an open alert.', todo: '' };
  if (only === 'unplaced') return { what: 'Every lot is on a rack.', todo: '' };
  return { what: 'No lot here.', todo: only === 'all' ? 'Take in the first one.' : '' };
}

/** The title of an alert without the lot's code and place, which its row shows already. */
function shortTitle(title: string, code: string): string {
  const rest = title.startsWith(code) ? title.slice(title.indexOf(': ') + 2) : title;
  return capitalized(rest);
}

function rowOf(lot: ListedLot, ticked: readonly string[]) {
  const alerts = lot.alerts.map(({ severity, title }) => ({ severity, short: shortTitle(title, lot.code) }));
  const price = lot.price === null ? '' : priceWords(lot.price);
  const drawing = lot.drawn === null ? '' : placeDrawing(lot.drawn);
  return {
    ...lot,
    alerts,
    price,
    placeDrawing: drawing,
    href: lotHref(lot.code),
    ticked: ticked.includes(lot.code),
  };
}

/** How many lots are found; of the whole stock it is the farm's number of lots. */
function countOf(siteId: string, { q, only, group }: ListQuery, value: number) {
  const text = plural(value, 'lot', 'lots');
  const whole = q === '' && only === 'all' && group === null;
  return { text, figures: whole ? [{ name: 'stock.lots', of: siteId, value, text }] : [] };
}

async function showStock(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const listQuery = lotQuerySchema.parse(request.query);
  const ticked = ticksOf(request.query);
  const code = listQuery.q === '' ? null : await existingCode(service.db, request.site.id, listQuery.q);
  if (code !== null) return reply.redirect(lotHref(code), 303);
  const { q: text, only, group: groupId, page } = listQuery;
  const query = { siteId: request.site.id, text, only, groupId, page };
  const [found, groups] = await Promise.all([
    findLots(service.pool, query, service.now()),
    listGroups(service.db),
  ]);
  const data = {
    asked: { ...listQuery, group: listQuery.group ?? '' },
    sets: sets.map((set) => ({
      text: set.text,
      href: withTicks(hrefOf({ ...listQuery, only: set.only, page: 1 }), ticked),
      current: set.only === only,
    })),
    groups: groups.map(({ id, name }) => ({ value: id, text: name })),
    lots: found.lots.map((lot) => rowOf(lot, ticked)),
    ticks: tickBar(
      ticked,
      found.lots.map((lot) => lot.code),
      hrefOf(listQuery),
    ),
    count: countOf(request.site.id, listQuery, found.total),
    empty: emptyWords(listQuery),
    pager: pagerOf(found, (page) => page),
    paper: hrefOf({ ...listQuery, page: 1 }).replace('/stock', '/stock/paper'),
  };
  const scripts = ['/assets/ticking.js'];
  return showPage(service, request, reply, 'stock/stock', data, { title: 'Stock', area: 'stock', scripts });
}

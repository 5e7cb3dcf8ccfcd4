import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { csvText } from '../../platform/csv.ts';
import type { Service } from '../../platform/service.ts';
import { may } from '../../platform/web/access.ts';
import { showPage } from '../../platform/web/pages.ts';
import { yieldLoop } from '../../platform/yield-loop.ts';
import type { Ask, ExportedList } from './list.ts';
import { listGroups, mayRead, namedList } from './lists.ts';

/** Every list as CSV, and the page that names them all. */
export function listPages(app: FastifyInstance, service: Service): void {
  app.get('/export', (request, reply) => show(service, request, reply));
  app.get('/export/:list.csv', (request, reply) => send(service, request, reply));
}

async function show(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const groups = listGroups
    .map(({ title, lists }) => ({
      title,
      lists: lists.filter(({ access }) => may(request.person.role, access)),
    }))
    .filter(({ lists }) => lists.length > 0);
  return showPage(
    service,
    request,
    reply,
    'exports/exports',
    { groups, site: request.site },
    { title: 'Export' },
  );
}

async function* textOf(list: ExportedList, ask: Ask): AsyncGenerator<string> {
  const breathe = yieldLoop();
  for await (const rows of list.rows(ask)) {
    yield csvText(rows);
    await breathe();
  }
}

async function send(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const list = namedList(request);
  mayRead(request, list);
  const { site } = request;
  const day = service.now().toISOString().slice(0, 10);
  const name = `${list.slug} ${site.name} ${day}`.replace(/[^\w .-]/g, '_');
  return reply
    .type('text/csv; charset=utf-8')
    .header('content-disposition', `attachment; filename="${name}.csv"`)
    .header('cache-control', 'no-store')
    .send(Readable.from(textOf(list, { service, site, now: service.now() })));
}

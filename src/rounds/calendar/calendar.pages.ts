import { createHash } from 'node:crypto';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { qrCode } from '../../platform/charts/qr.ts';
import { localDay, momentOf } from '../../platform/days.ts';
import { isByDoor } from '../../platform/door/addresses.ts';
import { takes } from '../../platform/door/takes.ts';
import { linkBase } from '../../platform/link-base.ts';
import type { Service } from '../../platform/service.ts';
import { changeForSecret, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { calendarFile } from '../../platform/words/calendar-file.ts';
import { dueEvents } from './due-events.ts';
import { endFeed, makeFeed, ownFeed, siteOfFeed } from './feeds.ts';

/** Due work for somebody's own calendar, at a secret address. */
export function calendarPages(app: FastifyInstance, service: Service): void {
  app.get('/account/calendar', (request, reply) => showCalendar(service, request, reply));
  app.post('/account/calendar', takes(z.object({}), { withSecret: true }), (request, reply) =>
    postCalendar(service, request, reply),
  );
  app.post('/account/calendar/end', (request, reply) => postEnd(service, request, reply));
  app.get('/calendar/:token.ics', (request, reply) => sendFeed(service, request, reply));
}

const baseOf = (service: Service, request: FastifyRequest) =>
  publicAddress(service.config, request).base ?? linkBase(service.config);

async function showCalendar(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  address: string | null = null,
) {
  const feed = await ownFeed(service.db, request.person.id, request.site.id);
  const data = { feed, address, qr: address === null ? '' : qrCode(address) };
  return showPage(service, request, reply, 'rounds/calendar', data, {
    title: 'Calendar',
    form: freshForm(),
  });
}

async function postCalendar(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { secret } = await changeForSecret(request, (work) => makeFeed(work, request.site.id));
  const address = new URL(`/calendar/${secret}.ics`, baseOf(service, request)).href;
  if (isByDoor(request)) return reply.status(201).send({ address });
  return showCalendar(service, request, reply, address);
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => endFeed(work, request.site.id),
    done: () => ({ to: '/account/calendar', notice: 'The address opens nothing any more.' }),
    again: () => showCalendar(service, request, reply),
  });
}

/** The file itself: for whoever has the address. What did not change since is not sent again (RFC 9110, 13.1.2). */
async function sendFeed(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const now = service.now();
  const { token } = request.params as { token: string };
  const { siteId, siteName, timeZone } = await siteOfFeed(service.pool, token, now);
  const base = baseOf(service, request);
  const linkOf = (path: string) => new URL(path, base).href;
  const events = await dueEvents(service.pool, { siteId, timeZone, now, linkOf });
  // Stamped with the day, so that the file is the same while the work is.
  const stamp = momentOf(localDay(now, timeZone), '00:00', timeZone);
  const file = calendarFile({ product: 'Due work', name: `${siteName}: due work` }, events, stamp);
  const etag = `"${createHash('sha256').update(file).digest('base64url').slice(0, 27)}"`;
  reply.header('etag', etag).header('cache-control', 'private, max-age=300');
  if (request.headers['if-none-match'] === etag) return reply.status(304).send();
  return reply.type('text/calendar; charset=utf-8').send(file);
}

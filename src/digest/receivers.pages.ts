import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { listSites } from '../farm/sites/sites.ts';
import { change } from '../platform/change.ts';
import { linkBase } from '../platform/link-base.ts';
import type { Service } from '../platform/service.ts';
import { many, text } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { letterText } from './letters.ts';
import { addReceiver, findReceiver, listReceivers, stopReceiver } from './receivers.ts';

/** Who gets the digest by mail; ending it is open to whoever has the letter. */
export function receiverPages(app: FastifyInstance, service: Service): void {
  const open = { config: { withoutFormToken: true } };
  app.get('/digest/receivers', (request, reply) => showReceivers(service, request, reply));
  app.post('/digest/receivers', (request, reply) => postReceiver(service, request, reply));
  app.get('/digest/receivers/:id/end', open, (request, reply) => endPage(service, request, reply));
  app.post('/digest/receivers/:id/end', open, (request, reply) => postEnd(service, request, reply));
  app.get('/digest/letters/:id.eml', (request, reply) => sendLetterFile(service, request, reply));
}

const receiverSchema = z.object({
  name: text('a name', 120),
  email: text('an address', 200)
    .transform((typed) => typed.toLowerCase())
    .pipe(z.email('Enter an address, like ana@example.org.')),
  site: many().pipe(z.array(z.uuid()).min(1, 'Choose at least one site.')),
});

async function showReceivers(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const [receivers, sites] = await Promise.all([listReceivers(service.db), listSites(service.db)]);
  const names = new Map(sites.map(({ id, name }) => [id, name]));
  const form = refused ?? freshForm({ name: '', email: '', site: [request.site.id] });
  const chosen = new Set([form.typed.site].flat());
  const data = {
    sending: service.config.SMTP_URL !== undefined,
    leads: service.config.PUBLIC_URL === undefined ? linkBase(service.config) : null,
    receivers: receivers.map(({ id, name, email, siteIds }) => ({
      ...{ id, name, email },
      sites: siteIds.map((site) => names.get(site) ?? '').join(', '),
    })),
    sites: sites.map(({ id, name }) => ({ id, name, checked: chosen.has(id) })),
  };
  return showPage(service, request, reply, 'digest/receivers', data, {
    title: 'Who gets the digest by mail',
    area: 'digest',
    form,
  });
}

async function postReceiver(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: receiverSchema,
    act: (work, { site, ...value }) => addReceiver(work, { ...value, siteIds: site }),
    done: (_, { email }) => ({
      to: '/digest/receivers',
      notice: `The digest goes to ${email} from the next one on.`,
    }),
    again: (form) => showReceivers(service, request, reply, form),
  });
}

async function endPage(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, email, stoppedAt } = await findReceiver(service.db, pathId(request, 'id', 'This receiver'));
  const data = { id, email, ended: stoppedAt !== null };
  return showPage(service, request, reply, 'digest/end', data, { title: 'Digest by mail', layout: 'public' });
}

/** From the page, or at one click from a mail program (RFC 8058). */
async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This receiver');
  await change(service, { accountId: null }, (work) => stopReceiver(work, id));
  return endPage(service, request, reply);
}

async function sendLetterFile(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const raw = await letterText(service.db, pathId(request, 'id', 'This letter'));
  return reply
    .type('message/rfc822')
    .header('content-disposition', 'attachment; filename="digest.eml"')
    .send(Buffer.from(raw));
}

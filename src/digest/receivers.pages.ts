import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findSite } from '../farm/sites/sites.ts';
import { change } from '../platform/change.ts';
import { takes } from '../platform/door/takes.ts';
import { linkBase } from '../platform/link-base.ts';
import type { Service } from '../platform/service.ts';
import { mailAddress, text } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { letterText } from './letters.ts';
import { addReceiver, findReceiver, listReceivers, stopReceiver } from './receivers.ts';

/** Who gets the digest by mail; ending it is open to whoever has the letter. */
export function receiverPages(app: FastifyInstance, service: Service): void {
  const open = { config: { withoutFormToken: true } };
  app.get('/digest/receivers', (request, reply) => showReceivers(service, request, reply));
  app.post('/digest/receivers', takes(receiverSchema), (request, reply) =>
    postReceiver(service, request, reply),
  );
  app.get('/digest/receivers/:id/end', open, (request, reply) => endPage(service, request, reply));
  app.post('/digest/receivers/:id/end', open, (request, reply) => postEnd(service, request, reply));
  app.get('/digest/letters/:id.eml', (request, reply) => sendLetterFile(service, request, reply));
}

const receiverSchema = z.object({
  name: text('a name', 120),
  email: text('an address', 200)
    .transform((typed) => typed.toLowerCase())
    .pipe(mailAddress('Enter an address, like ana@example.org.')),
});

async function showReceivers(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const receivers = await listReceivers(service.db, request.site.id);
  const form = refused ?? freshForm({ name: '', email: '' });
  const data = {
    sending: service.config.SMTP_URL !== undefined,
    leads: service.config.PUBLIC_URL === undefined ? linkBase(service.config) : null,
    receivers: receivers.map(({ id, name, email }) => ({ id, name, email })),
    site: request.site,
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
    act: (work, value) => addReceiver(work, { ...value, siteId: request.site.id }),
    done: (_, { email }) => ({
      to: '/digest/receivers',
      notice: `The digest goes to ${email} from the next one on.`,
    }),
    again: (form) => showReceivers(service, request, reply, form),
  });
}

/** The one site it is ended for, where the page of that site leads here; a letter ends all. */
const siteOf = (request: FastifyRequest): string | null =>
  z.object({ site: z.uuid() }).safeParse(request.query).data?.site ?? null;

async function endPage(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const receiver = await findReceiver(service.db, pathId(request, 'id', 'This receiver'));
  const { id, email, stoppedAt, siteIds } = receiver;
  const siteId = siteOf(request);
  const site = siteId === null ? null : await findSite(service.db, siteId);
  const ended = stoppedAt !== null || (siteId !== null && !siteIds.includes(siteId));
  const data = { id, email, site, ended };
  return showPage(service, request, reply, 'digest/end', data, { title: 'Digest by mail', layout: 'public' });
}

/** From the page, or at one click from a mail program (RFC 8058). */
async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This receiver');
  await change(service, { accountId: null }, (work) => stopReceiver(work, id, siteOf(request)));
  return endPage(service, request, reply);
}

async function sendLetterFile(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const raw = await letterText(service.db, pathId(request, 'id', 'This letter'));
  return reply
    .type('message/rfc822')
    .header('content-disposition', 'attachment; filename="digest.eml"')
    .send(Buffer.from(raw));
}

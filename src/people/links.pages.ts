import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { change } from '../platform/change.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { fieldErrors } from '../platform/views/field-errors.ts';
import { type FormState, freshForm, refusedForm } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { networkOf } from '../platform/web/wrong-tries.rules.ts';
import { forgetTries, takeTry, triesFrom } from '../platform/web/wrong-tries.ts';
import { forgottenSchema, newPasswordSchema } from './accounts.schema.ts';
import { linkQueue } from './link-letters.ts';
import { confirmAddress, findLink, linkIsOver, setPasswordByLink } from './links.ts';

/** A forgotten password, and what the links in letters open. */
export function linkPages(app: FastifyInstance, service: Service): void {
  app.get('/forgotten', (request, reply) => showForgotten(service, request, reply, freshForm({ email: '' })));
  app.post('/forgotten', (request, reply) => postForgotten(service, request, reply));
  app.get('/password/:token', (request, reply) => showPassword(service, request, reply, freshForm()));
  app.post('/password/:token', (request, reply) => postPassword(service, request, reply));
  app.get('/address/:token', (request, reply) => showAddress(service, request, reply));
  app.post('/address/:token', (request, reply) => postAddress(service, request, reply));
}

const tokenOf = (request: FastifyRequest) => (request.params as { token: string }).token;

function showForgotten(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState,
  sent = false,
) {
  const data = { sent, byMail: service.config.SMTP_URL !== undefined };
  return showPage(service, request, reply, 'people/forgotten', data, {
    title: 'Forgotten password',
    layout: 'plain',
    form,
  });
}

/** One answer for every address. Tries count by network and by address, known or not, and are never given back. */
async function postForgotten(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const parsed = forgottenSchema.safeParse(request.body);
  if (!parsed.success)
    return showForgotten(
      service,
      request,
      reply.status(422),
      refusedForm(request.body, fieldErrors(parsed.error)),
    );
  const { email } = parsed.data;
  const siteId = request.pageContext.site?.id;
  if (service.config.SMTP_URL === undefined || siteId === undefined)
    return showForgotten(service, request, reply, freshForm({ email }));
  try {
    const now = service.now();
    await takeTry(service.pool, { limit: 'address', who: `forgotten ${networkOf(request.ip)}` }, now);
    await takeTry(service.pool, { limit: 'account', who: `forgotten ${email}` }, now);
  } catch (error) {
    if (!(error instanceof Refusal) || error.retryAfterS === null) throw error;
    reply.status(error.status).header('retry-after', String(error.retryAfterS));
    const errors = [{ field: 'email', message: error.message }];
    return showForgotten(service, request, reply, refusedForm(request.body, errors));
  }
  await change(service, { accountId: null }, async (work) => {
    work.record('password.forgotten', { type: 'site', id: siteId }, { from: request.ip });
    await service.jobs.send(work.tx, linkQueue, { forgotten: email });
  });
  return showForgotten(service, request, reply, freshForm({ email }), true);
}

/** Looks at a link before its page is drawn. Unknown ones are counted like other wrong secrets. */
async function openLink(service: Service, request: FastifyRequest, isAddress: boolean) {
  const link = await findLink(service.db, tokenOf(request), service.now());
  if (link !== null && (link.email !== null) === isAddress) return link;
  await takeTry(service.pool, triesFrom('secret', request.ip), service.now());
  throw linkIsOver();
}

async function showPassword(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  await openLink(service, request, false);
  const data = { token: tokenOf(request) };
  // The address is a secret: it goes to no other page.
  reply.header('referrer-policy', 'no-referrer');
  return showPage(service, request, reply, 'people/new-password', data, {
    title: 'Set a new password',
    layout: 'plain',
    form,
  });
}

async function postPassword(service: Service, request: FastifyRequest, reply: FastifyReply) {
  await openLink(service, request, false);
  const parsed = newPasswordSchema.safeParse(request.body);
  if (!parsed.success)
    return showPassword(service, request, reply.status(422), refusedForm({}, fieldErrors(parsed.error)));
  const { email } = await change(service, { accountId: null }, (work) =>
    setPasswordByLink(work, tokenOf(request), parsed.data.password),
  );
  if (email !== null) await forgetTries(service.pool, { limit: 'account', who: email });
  const done = 'Your new password is set. Sign in with it.';
  return showDone(service, request, reply, {
    title: 'Password set',
    done,
    href: '/sign-in',
    text: 'Sign in',
  });
}

async function showAddress(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { email } = await openLink(service, request, true);
  reply.header('referrer-policy', 'no-referrer');
  return showPage(
    service,
    request,
    reply,
    'people/new-address',
    { token: tokenOf(request), email },
    { title: 'Confirm your address', layout: 'plain' },
  );
}

async function postAddress(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { accountId } = await openLink(service, request, true);
  const { email } = await change(service, { accountId }, (work) => confirmAddress(work, tokenOf(request)));
  const done = `You sign in with ${email} from now on.`;
  return showDone(service, request, reply, { title: 'Address confirmed', done, href: '/', text: 'Go on' });
}

const showDone = (
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  data: { title: string; done: string; href: string; text: string },
) => showPage(service, request, reply, 'people/done', data, { title: data.title, layout: 'plain' });

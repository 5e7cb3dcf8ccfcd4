import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { change } from '../platform/change.ts';
import { qrCode } from '../platform/charts/qr.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { fieldErrors } from '../platform/views/field-errors.ts';
import { addressWithin } from '../platform/web/back.ts';
import { type FormState, freshForm, refusedForm } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { tabletReach } from '../platform/words/addresses.ts';
import { firstRunSchema, signInSchema } from './accounts.schema.ts';
import { type AddSite, setUpFarm } from './accounts.ts';
import { deviceOf, enrol } from './devices.ts';
import { keptWords } from './kept-words.ts';
import { noteSignOut, type SignedIn, signIn } from './sign-in.ts';

/** Signing in and out, and the page of the very first run. */
export function signInPages(app: FastifyInstance, service: Service, addSite: AddSite): void {
  app.get('/welcome', (request, reply) =>
    showWelcome(service, request, reply, freshForm({ siteName: '', timeZone: '', name: '', email: '' })),
  );
  app.post('/welcome', (request, reply) => postWelcome(service, addSite, request, reply));
  app.get('/sign-in', (request, reply) => showSignIn(service, request, reply, freshForm({ email: '' })));
  app.post('/sign-in', (request, reply) => postSignIn(service, request, reply));
  app.post('/sign-out', (request, reply) => postSignOut(service, request, reply));
}

async function showWelcome(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  if (request.pageContext.settled) return reply.redirect('/', 303);
  const zones = ['UTC', ...Intl.supportedValuesOf('timeZone')];
  const { protocol, socket } = request;
  const { open, words } = tabletReach(service.config, { protocol, port: socket.localPort ?? 8080 });
  return showPage(
    service,
    request,
    reply,
    'people/welcome',
    { zones, reach: { words, codes: open.map((address) => ({ address, qr: qrCode(address) })) } },
    { title: 'Set up the farm', layout: 'plain', form, scripts: ['/assets/time-zone.js'] },
  );
}

async function postWelcome(service: Service, addSite: AddSite, request: FastifyRequest, reply: FastifyReply) {
  const parsed = firstRunSchema.safeParse(request.body);
  if (!parsed.success) {
    return showWelcome(
      service,
      request,
      reply.status(422),
      refusedForm(request.body, fieldErrors(parsed.error)),
    );
  }
  const { accountId } = await change(service, { accountId: null }, (work) =>
    setUpFarm(work, parsed.data, addSite),
  );
  await signInAs(request, reply, { id: accountId, sessionGeneration: 1 });
  return reply.redirect('/farm', 303);
}

async function showSignIn(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  if (!request.pageContext.settled) return reply.redirect('/welcome', 303);
  if (request.pageContext.person !== null) return reply.redirect('/', 303);
  const to = addressWithin((request.query as { to?: unknown }).to ?? form.typed.to) ?? '';
  return showPage(
    service,
    request,
    reply,
    'people/sign-in',
    { to, kept: keptWords(request) },
    { title: 'Sign in', layout: 'plain', form },
  );
}

async function postSignIn(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const refuse = (error: Parameters<typeof fieldErrors>[0] | string, status = 422) => {
    const errors = typeof error === 'string' ? [{ field: 'email', message: error }] : fieldErrors(error);
    const { password: _never, ...typed } = (request.body ?? {}) as Record<string, string>;
    return showSignIn(service, request, reply.status(status), refusedForm(typed, errors));
  };
  const parsed = signInSchema.safeParse(request.body);
  if (!parsed.success) return refuse(parsed.error);
  const siteId = request.pageContext.site?.id ?? null;
  const attempt = { ...parsed.data, ip: request.ip, device: deviceOf(request), siteId };
  const account = await signIn(service, attempt).catch((error: unknown) => {
    if (!(error instanceof Refusal) || error.retryAfterS === null) throw error;
    reply.header('retry-after', String(error.retryAfterS));
    return error;
  });
  if (account instanceof Refusal) return refuse(account.message, account.status);
  if (account === null)
    return refuse(
      'Address and password do not belong together. Check both; capital letters count in the password.',
    );
  await signInAs(request, reply, account);
  return reply.redirect(wantedPage(request.body), 303);
}

/** A new session id at every sign-in, so that one planted before is worthless. The device stays at its site. */
export async function signInAs(
  request: FastifyRequest,
  reply: FastifyReply,
  account: SignedIn,
): Promise<void> {
  await request.session.regenerate(['siteId']);
  request.session.set('accountId', account.id);
  request.session.set('generation', account.sessionGeneration);
  enrol(request, reply, account);
}

/** The page that was asked for before the sign-in, from the form's `to`. */
const wantedPage = (form: unknown): string =>
  addressWithin((form as { to?: unknown } | undefined)?.to) ?? '/';

async function postSignOut(service: Service, request: FastifyRequest, reply: FastifyReply) {
  if (request.pageContext.person === null) throw new Refusal('You are signed out.', { status: 403 });
  await noteSignOut(service, request.pageContext.person.id);
  await request.session.destroy();
  return reply.redirect('/sign-in', 303);
}

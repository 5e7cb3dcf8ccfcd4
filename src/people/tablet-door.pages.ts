import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { fieldErrors } from '../platform/views/field-errors.ts';
import { addressWithin } from '../platform/web/back.ts';
import { type FormState, freshForm, refusedForm } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId, tabletCookie } from '../platform/web/requests.ts';
import { keptWords } from './kept-words.ts';
import { signInByPin } from './pin-sign-in.ts';
import { pinSchema } from './tablets.schema.ts';
import { type Tablet, tabletBySecret } from './tablets.ts';

/** The door of an enrolled tablet: the names, then the PIN. On any other device it opens nothing. */
export function tabletDoor(app: FastifyInstance, service: Service): void {
  app.get('/tablet', (request, reply) => showNames(service, request, reply));
  app.get('/tablet/:id', (request, reply) => showPin(service, request, reply, freshForm()));
  app.post('/tablet/:id', (request, reply) => postPin(service, request, reply));
}

/** The tablet that asks. @throws Refusal 403 where the device is none, or was removed */
async function tabletOf(service: Service, request: FastifyRequest): Promise<Tablet> {
  const { valid, value } = request.unsignCookie(request.cookies[tabletCookie] ?? '');
  const tablet = valid && value !== null ? await tabletBySecret(service.db, value) : null;
  if (tablet === null)
    throw new Refusal(
      'This device is not an enrolled tablet, or no longer. A manager enrols it under Tablets, or sign in with your e-mail address.',
      { status: 403 },
    );
  return tablet;
}

const wantedOf = (request: FastifyRequest): string =>
  addressWithin(
    (request.query as { to?: unknown }).to ?? (request.body as { to?: unknown } | undefined)?.to,
  ) ?? '';

const queryTo = (to: string): string => (to === '' ? '' : `?to=${encodeURIComponent(to)}`);

async function showNames(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tablet = await tabletOf(service, request).catch((error: unknown) => {
    // A removed tablet is a device like any other.
    reply.clearCookie(tabletCookie, { path: '/' });
    throw error;
  });
  const to = wantedOf(request);
  const data = { tablet, query: queryTo(to), kept: keptWords(request) };
  return showPage(service, request, reply, 'people/tablet-names', data, {
    title: 'Who is at the tablet?',
    layout: 'plain',
  });
}

const personOf = (request: FastifyRequest, tablet: Tablet) => {
  const id = pathId(request, 'id', 'This person');
  const person = tablet.people.find((one) => one.id === id);
  if (person === undefined)
    throw new Refusal('This person does not use this tablet. A manager changes that under Tablets.', {
      status: 403,
    });
  return person;
};

async function showPin(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const tablet = await tabletOf(service, request);
  const to = wantedOf(request);
  const data = { person: personOf(request, tablet), to, query: queryTo(to) };
  return showPage(service, request, reply, 'people/tablet-pin', data, {
    title: `PIN of ${data.person.name}`,
    layout: 'plain',
    form,
  });
}

async function postPin(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tablet = await tabletOf(service, request);
  const person = personOf(request, tablet);
  const refuse = (message: string, status = 422) =>
    showPin(service, request, reply.status(status), refusedForm({}, [{ field: 'pin', message }]));
  const parsed = pinSchema.safeParse(request.body);
  if (!parsed.success) return refuse(fieldErrors(parsed.error)[0]?.message ?? 'Enter your PIN.');
  try {
    const account = await signInByPin(service, tablet, person.id, parsed.data.pin);
    if (account === null) return refuse('That is not the PIN. Try again.');
    const to = wantedOf(request);
    await request.session.regenerate(['siteId']);
    request.session.set('accountId', account.id);
    request.session.set('generation', account.sessionGeneration);
    request.session.set('tablet', {
      id: tablet.id,
      idleMin: tablet.idleMin,
      usedAt: service.now().getTime(),
    });
    return reply.redirect(to === '' ? '/' : to, 303);
  } catch (error) {
    if (!(error instanceof Refusal) || error.retryAfterS === null) throw error;
    reply.header('retry-after', String(error.retryAfterS));
    return refuse(error.message, error.status);
  }
}

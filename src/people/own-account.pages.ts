import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { z } from 'zod';
import { takes } from '../platform/door/takes.ts';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { unitOptions } from '../platform/units/units.ts';
import { type FormState, freshForm, refusedForm, submit } from '../platform/web/forms.ts';
import { checked } from '../platform/web/json.ts';
import { showPage } from '../platform/web/pages.ts';
import { ownAddressSchema, ownPasswordSchema, ownUnitsSchema } from './accounts.schema.ts';
import { findPerson } from './accounts.ts';
import { linkQueue } from './link-letters.ts';
import { changeAddress } from './links.ts';
import { askAgain, changeOwnPassword, setOwnUnits, signOutEverywhere } from './own-account.ts';
import { signInAs } from './sign-in.pages.ts';

/** One's own account: password, address, signing out everywhere. */
export function ownAccountPages(app: FastifyInstance, service: Service): void {
  app.get('/account', (request, reply) => showAccount(service, request, reply));
  app.post('/account/password', (request, reply) => postPassword(service, request, reply));
  app.post('/account/address', (request, reply) => postAddress(service, request, reply));
  app.post('/account/units', takes(ownUnitsSchema), (request, reply) => postUnits(service, request, reply));
  app.post('/account/sign-out', (request, reply) => postSignOut(service, request, reply));
}

async function showAccount(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = freshForm(),
) {
  const person = await findPerson(service.db, request.person.id);
  const chosen = request.person.units;
  const units = measured.map(({ name, label }) => ({
    name,
    label,
    options: unitOptions(name),
    value: form.typed[name] || (chosen[name] ?? ''),
  }));
  const data = { person, units, byMail: service.config.SMTP_URL !== undefined };
  return showPage(service, request, reply, 'people/account', data, { title: 'Your account', form });
}

/** Passwords never come back in a form that is drawn again. */
async function tryTo<S extends z.ZodType>(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  schema: S,
  act: (input: z.output<S>) => Promise<unknown>,
) {
  try {
    await act(checked(schema, request.body));
    return reply.redirect('/account', 303);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    if (error.retryAfterS !== null) reply.header('retry-after', String(error.retryAfterS));
    const { password: _new, current: _old, ...typed } = (request.body ?? {}) as Record<string, string>;
    const errors = error.fields.length > 0 ? error.fields : [{ field: 'current', message: error.message }];
    return showAccount(service, request, reply.status(error.status), refusedForm(typed, errors));
  }
}

const postPassword = (service: Service, request: FastifyRequest, reply: FastifyReply) =>
  tryTo(service, request, reply, ownPasswordSchema, async ({ current, password }) => {
    const { id } = request.person;
    await askAgain(service, id, current);
    const sessionGeneration = await request.change((work) => changeOwnPassword(work, id, password));
    await signInAs(request, reply, { id, sessionGeneration });
    request.session.set('notice', 'Your password is changed. Other devices are signed out.');
  });

/** With mail the new address confirms itself by a link; without, the password alone has to do. */
const postAddress = (service: Service, request: FastifyRequest, reply: FastifyReply) =>
  tryTo(service, request, reply, ownAddressSchema, async ({ current, email }) => {
    const { id } = request.person;
    await askAgain(service, id, current);
    if (service.config.SMTP_URL === undefined) {
      await request.change((work) => changeAddress(work, id, email));
      return request.session.set('notice', `You sign in with ${email} from now on.`);
    }
    await service.db.$transaction((tx) =>
      service.jobs.send(tx, linkQueue, { accountId: id, newEmail: email }),
    );
    return request.session.set(
      'notice',
      `A mail is on its way to ${email}. Open its link within an hour; until then you sign in as before.`,
    );
  });

/** What is measured, as the form asks for its unit. */
const measured = [
  { name: 'volume', label: 'Volumes in' },
  { name: 'length', label: 'Lengths in' },
  { name: 'mass', label: 'Weights in' },
  { name: 'temperature', label: 'Temperatures in' },
  { name: 'alkalinity', label: 'Alkalinity in' },
  { name: 'salinity', label: 'Salinity in' },
] as const;

async function postUnits(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: ownUnitsSchema,
    act: (work, units) => setOwnUnits(work, request.person.id, units),
    done: () => ({ to: '/account', notice: 'Your units are set. Stored values stay as they are.' }),
    again: (form) => showAccount(service, request, reply, form),
  });
}

async function postSignOut(_service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id } = request.person;
  await request.change((work) => signOutEverywhere(work, id));
  await request.session.destroy();
  return reply.redirect('/sign-in', 303);
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../platform/door/takes.ts';
import { Refusal } from '../platform/refusal.ts';
import { seenIn, seenOf } from '../platform/seen.ts';
import type { Service } from '../platform/service.ts';
import { changeForSecret, type FormState, freshForm, refusedForm, submit } from '../platform/web/forms.ts';
import { checked } from '../platform/web/json.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId, tabletCookie } from '../platform/web/requests.ts';
import { dayMs } from '../science/numeric/time.ts';
import { tabletSchema } from './tablets.schema.ts';
import {
  changeTablet,
  endTablet,
  enrolTablet,
  findTablet,
  listHands,
  listTablets,
  tabletSeen,
} from './tablets.ts';

/** Tablets: enrolling the one in hand, who may use which, taking one away. */
export function tabletPages(app: FastifyInstance, service: Service): void {
  app.get('/people/tablets', (request, reply) => showTablets(service, request, reply));
  app.post('/people/tablets', takes(tabletSchema), (request, reply) => postTablet(service, request, reply));
  app.get('/people/tablets/:id', (request, reply) => showTablet(service, request, reply));
  app.post('/people/tablets/:id', takes(tabletSchema), (request, reply) =>
    postChange(service, request, reply),
  );
  app.post('/people/tablets/:id/end', (request, reply) => postEnd(service, request, reply));
}

/** A quarter of an hour (own choice): longer than a rack on a round takes, shorter than a break. */
const usualIdleMin = 15;
const cookieS = (400 * dayMs) / 1000;

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This tablet');

/** The hands to choose from, ticked as typed. */
const ticked = (hands: readonly { id: string; name: string }[], chosen: unknown) => {
  const ids = new Set([chosen].flat());
  return hands.map((hand) => ({ ...hand, isChosen: ids.has(hand.id) }));
};

async function showTablets(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const [tablets, hands] = await Promise.all([listTablets(service.db), listHands(service.db)]);
  const form = refused ?? freshForm({ name: '', idleMin: usualIdleMin });
  const data = {
    inUse: tablets.filter(({ endedAt }) => endedAt === null),
    ended: tablets.filter(({ endedAt }) => endedAt !== null),
    hands: ticked(hands, refused?.typed.people ?? hands.map(({ id }) => id)),
  };
  return showPage(service, request, reply, 'people/tablets', data, { title: 'Tablets', form });
}

/** Enrols the very device that sends the form, and hands it over: the manager is signed out on it. */
async function postTablet(service: Service, request: FastifyRequest, reply: FastifyReply) {
  try {
    const input = checked(tabletSchema, request.body);
    const { secret } = await changeForSecret(request, (work) => enrolTablet(work, input));
    reply.setCookie(tabletCookie, secret, {
      ...{ path: '/', httpOnly: true, sameSite: 'lax', secure: 'auto', signed: true },
      maxAge: cookieS,
    });
    await request.session.destroy();
    return reply.redirect('/tablet', 303);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    return showTablets(service, request, reply.status(error.status), refusedForm(request.body, error.fields));
  }
}

async function showTablet(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const [tablet, hands] = await Promise.all([findTablet(service.db, idOf(request)), listHands(service.db)]);
  const { name, idleMin, people } = tablet;
  const form = refused ?? freshForm({ name, idleMin });
  const users = people.map((one) => one.name).join(', ') || 'nobody';
  const data = {
    tablet,
    seen: seenOf(tabletSeen(tablet)),
    theirs: reply.statusCode === 409 ? `${name}, ${idleMin} minutes, used by ${users}` : '',
    hands: ticked(hands, refused?.typed.people ?? people.map(({ id }) => id)),
  };
  return showPage(service, request, reply, 'people/tablet', data, { title: name, form });
}

async function postChange(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: tabletSchema,
    act: (work, value) => changeTablet(work, id, value, seenIn(request.body)),
    done: (_, { name }) => ({ to: '/people/tablets', notice: `${name} is changed.` }),
    again: (form) => showTablet(service, request, reply, form),
  });
}

async function postEnd(_service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  const { name } = await request.change((work) => endTablet(work, id));
  request.session.set('notice', `${name} is removed. Nobody can sign in on it with a PIN any more.`);
  return reply.redirect('/people/tablets', 303);
}

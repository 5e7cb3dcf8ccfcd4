import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { isByDoor } from '../../platform/door/addresses.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { changeForSecret, type FormState, freshForm, refusedForm, submit } from '../../platform/web/forms.ts';
import { checked } from '../../platform/web/json.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { networksOf } from './addresses.rules.ts';
import {
  type DeliveryRow,
  deliveriesOf,
  sendAgain,
  sendAllAgain,
  undeliveredOf,
  wakeWebhooks,
} from './deliveries.ts';
import { eventWords, hookEvents, usualEvents } from './events.rules.ts';
import { eventsSchema, webhookSchema } from './webhooks.schema.ts';
import {
  addWebhook,
  chooseEvents,
  eventsStanding,
  findWebhook,
  listWebhooks,
  removeWebhook,
  renewSecret,
  switchWebhook,
  testWebhook,
} from './webhooks.ts';

/** Webhooks: addresses of other programs that are told of alerts and emergencies. */
export function webhookPages(app: FastifyInstance, service: Service): void {
  const house = networksOf(service.config.WEBHOOK_NETWORKS);
  const newSchema = webhookSchema(house);
  const posts = (path: string, handler: (request: FastifyRequest, reply: FastifyReply) => unknown) =>
    app.post(`/farm/webhooks/:id/${path}`, handler);
  app.get('/farm/webhooks', (request, reply) => showWebhooks(service, request, reply));
  app.post('/farm/webhooks', takes(newSchema, { withSecret: true }), (request, reply) =>
    postWebhook(service, newSchema, request, reply),
  );
  app.get('/farm/webhooks/:id', (request, reply) => showWebhook(service, request, reply));
  app.post('/farm/webhooks/:id', takes(eventsSchema), (request, reply) =>
    postEvents(service, request, reply),
  );
  app.post('/farm/webhooks/:id/secret', takes(z.object({}), { withSecret: true }), (request, reply) =>
    postSecret(service, request, reply),
  );
  posts('test', (request, reply) => postTest(service, request, reply));
  posts('off', (request, reply) => postSwitch(service, request, reply, false));
  posts('on', (request, reply) => postSwitch(service, request, reply, true));
  posts('removal', (request, reply) => postRemoval(service, request, reply));
  posts('again', (request, reply) => postAllAgain(service, request, reply));
  app.post('/farm/webhook-deliveries/:id/again', (request, reply) => postAgain(service, request, reply));
}

const webhookId = (request: FastifyRequest) => pathId(request, 'id', 'This webhook');
const pageOf = (id: string) => `/farm/webhooks/${id}`;

/** The events with those ticked that the form has. */
const choicesOf = (typed: FormState['typed']) => {
  const chosen = new Set([typed.events ?? []].flat());
  return hookEvents.map((event) => ({ ...event, isChosen: chosen.has(event.code) }));
};

const formOf = (values: { address?: string; events: string[] }): FormState => {
  const { events, ...rest } = values;
  const form = freshForm(rest);
  return { ...form, typed: { ...form.typed, events } };
};

async function showWebhooks(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState = formOf({ address: '', events: usualEvents }),
) {
  const hooks = await listWebhooks(service.db, request.site.id);
  const countsOf = await undeliveredOf(
    service.pool,
    hooks.map(({ id }) => id),
  );
  const data = {
    hooks: hooks.map((hook) => ({ ...hook, ...countsOf(hook.id), told: hook.events.map(eventWords) })),
    events: choicesOf(form.typed),
  };
  return showPage(service, request, reply, 'intake/webhooks', data, {
    title: 'Webhooks',
    form,
  });
}

/** How a delivery stands, in words. */
function stateOf({ deliveredAt, givenUpAt, attempts, status }: DeliveryRow): string {
  if (deliveredAt !== null) return 'Delivered';
  if (givenUpAt !== null) return 'Not delivered';
  if (attempts === 0) return 'Waits to be sent';
  return status === null ? 'No answer' : 'Not taken';
}

const shownRow = (row: DeliveryRow) => ({
  ...row,
  what: eventWords(row.event),
  state: stateOf(row),
  triesAgain: row.deliveredAt === null && row.givenUpAt === null && row.attempts > 0,
});

async function showWebhook(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { form, secret = null }: { form?: FormState; secret?: string | null } = {},
) {
  const { db, pool } = service;
  const id = webhookId(request);
  const hook = await findWebhook(db, id);
  const [countsOf, lost, others, seen] = await Promise.all([
    undeliveredOf(pool, [id]),
    deliveriesOf(pool, id, true),
    deliveriesOf(pool, id, false),
    seenNow(db, eventsStanding(id)),
  ]);
  const drawn = form ?? formOf({ events: hook.events });
  const data = {
    ...{ hook, secret, seen, waiting: countsOf(id).waiting },
    bothSign: hook.olderUntil !== null && hook.olderUntil > service.now(),
    events: choicesOf(drawn.typed),
    lost: lost.map(shownRow),
    others: others.map(shownRow),
  };
  return showPage(service, request, reply, 'intake/webhook', data, {
    title: 'Webhook',
    form: drawn,
  });
}

/** Answered with a page and not with a redirection: the secret must reach the person without being kept on the way. */
async function postWebhook(
  service: Service,
  schema: ReturnType<typeof webhookSchema>,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  try {
    const input = checked(schema, request.body);
    const { id, secret } = await changeForSecret(request, (work) => addWebhook(work, request.site.id, input));
    if (isByDoor(request)) return await reply.status(201).send({ id, secret });
    return await showMade(service, request, reply, id, secret);
  } catch (error) {
    if (!(error instanceof Refusal) || isByDoor(request)) throw error;
    reply.status(error.status);
    return showWebhooks(service, request, reply, refusedForm(request.body, error.fields));
  }
}

const showMade = (
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  id: string,
  secret: string,
) => showPage(service, request, reply, 'intake/webhook-secret', { id, secret }, { title: 'Secret' });

async function postSecret(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = webhookId(request);
  const { secret } = await changeForSecret(request, (work) => renewSecret(work, id));
  if (isByDoor(request)) return reply.send({ id, secret });
  return showMade(service, request, reply, id, secret);
}

async function postEvents(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = webhookId(request);
  return submit(request, reply, {
    schema: eventsSchema,
    over: eventsStanding(id),
    act: (work, { events }) => chooseEvents(work, id, events),
    done: () => ({ to: pageOf(id), notice: 'From now on it is told of what is ticked.' }),
    again: (form) => showWebhook(service, request, reply, { form }),
  });
}

/** What a button alone asks for; a refusal is told on the webhook's page. */
const press = <R>(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  {
    act,
    done,
  }: { act: Parameters<FastifyRequest['change']>[0]; done: (result: R) => { to: string; notice: string } },
) =>
  submit(request, reply, {
    schema: z.object({}),
    act: (work) => act(work) as Promise<R>,
    done,
    again: ({ errors }) => {
      throw new Refusal(errors[0]?.message ?? '', { status: reply.statusCode });
    },
  }).finally(() => wakeWebhooks(service, service.now()));

async function postTest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = webhookId(request);
  return press(service, request, reply, {
    act: (work) => testWebhook(work, id),
    done: () => ({
      to: pageOf(id),
      notice: 'The test is on its way. Open this page again to see the answer.',
    }),
  });
}

async function postSwitch(service: Service, request: FastifyRequest, reply: FastifyReply, on: boolean) {
  const id = webhookId(request);
  return press(service, request, reply, {
    act: (work) => switchWebhook(work, id, on),
    done: () => ({
      to: pageOf(id),
      notice: on ? 'Switched on: what happens from now on is sent.' : 'Switched off: nothing is sent.',
    }),
  });
}

async function postRemoval(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = webhookId(request);
  return press<{ address: string }>(service, request, reply, {
    act: (work) => removeWebhook(work, id),
    done: ({ address }) => ({ to: '/farm/webhooks', notice: `Nothing is sent to ${address} any longer.` }),
  });
}

async function postAllAgain(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = webhookId(request);
  return press<{ sent: number }>(service, request, reply, {
    act: (work) => sendAllAgain(work, id),
    done: ({ sent }) => ({
      to: pageOf(id),
      notice: `${plural(sent, 'delivery is', 'deliveries are')} sent again.`,
    }),
  });
}

async function postAgain(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This delivery');
  return press<{ webhookId: string }>(service, request, reply, {
    act: (work) => sendAgain(work, id),
    done: ({ webhookId }) => ({ to: pageOf(webhookId), notice: 'It is sent again.' }),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { isByDoor } from '../../platform/door/addresses.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { changeForSecret, type FormState, freshForm, refusedForm, submit } from '../../platform/web/forms.ts';
import { checked } from '../../platform/web/json.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { addKey, endKey, listKeys, newKeySchema, usualRate } from './keys.ts';
import { keyScopes } from './scopes.ts';

/** Access keys of instruments. */
export function keyPages(app: FastifyInstance, service: Service): void {
  app.get('/people/keys', (request, reply) => showKeys(service, request, reply));
  app.post('/people/keys', takes(newKeySchema, { withSecret: true }), (request, reply) =>
    postKey(service, request, reply),
  );
  app.post('/people/keys/:id/end', (request, reply) => postEnd(service, request, reply));
}

const emptyKey = { name: '', days: '', perMinute: String(usualRate) };

interface Around {
  form?: FormState;
  /** The key that was just made: shown on this one answer. */
  made?: { name: string; key: string } | null;
}

async function showKeys(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { form = freshForm(emptyKey), made = null }: Around = {},
) {
  const now = service.now();
  const keys = (await listKeys(service.db)).map((key) => ({
    ...key,
    may: keyScopes.filter(({ code }) => key.scopes.includes(code)).map(({ text }) => text),
    ranOut: key.endedAt === null && key.expiresAt !== null && key.expiresAt <= now,
    // What its owner may no longer do, the key may not either.
    isStopped: key.account === null || key.account.disabledAt !== null,
  }));
  const chosen = new Set([form.typed.scopes ?? 'readings'].flat());
  const data = {
    made,
    inUse: keys.filter((key) => key.endedAt === null && !key.ranOut),
    ended: keys.filter((key) => key.endedAt !== null || key.ranOut),
    scopes: keyScopes.map((scope) => ({ ...scope, isChosen: chosen.has(scope.code) })),
    address: service.config.PUBLIC_URL,
  };
  return showPage(service, request, reply, 'people/keys', data, { title: 'Access keys', form });
}

/**
 * The one form that is answered with a page and not with a redirection: the key must reach the person without being
 * kept anywhere. Sent again under the same key it is refused, since the key is not there any more.
 */
async function postKey(service: Service, request: FastifyRequest, reply: FastifyReply) {
  try {
    const input = checked(newKeySchema, request.body);
    const { id, secret: key } = await changeForSecret(request, (work) =>
      addKey(work, { ...input, siteId: request.site.id }),
    );
    if (isByDoor(request)) return await reply.status(201).send({ id, name: input.name, key });
    return await showKeys(service, request, reply, { made: { name: input.name, key } });
  } catch (error) {
    if (!(error instanceof Refusal) || isByDoor(request)) throw error;
    reply.status(error.status);
    return showKeys(service, request, reply, { form: refusedForm(request.body, error.fields) });
  }
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This key');
  return submit(request, reply, {
    schema: z.object({}),
    act: (work) => endKey(work, id),
    done: ({ name }) => ({
      to: '/people/keys',
      notice: `The key of ${name} is ended. What it posted stays.`,
    }),
    again: (form) =>
      showKeys(service, request, reply, { form: { ...form, typed: { ...emptyKey, ...form.typed } } }),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { Refusal } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, refusedForm, submit } from '../platform/web/forms.ts';
import { checked } from '../platform/web/json.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { addKey, endKey, listKeys, newKeySchema } from './keys.ts';

/** Access keys of instruments. */
export function keyPages(app: FastifyInstance, service: Service): void {
  app.get('/people/keys', (request, reply) => showKeys(service, request, reply));
  app.post('/people/keys', (request, reply) => postKey(service, request, reply));
  app.post('/people/keys/:id/end', (request, reply) => postEnd(service, request, reply));
}

interface Around {
  form?: FormState;
  /** The key that was just made: shown on this one answer. */
  made?: { name: string; key: string } | null;
}

async function showKeys(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { form = freshForm({ name: '' }), made = null }: Around = {},
) {
  const keys = await listKeys(service.db);
  const data = {
    made,
    inUse: keys.filter((key) => key.endedAt === null),
    ended: keys.filter((key) => key.endedAt !== null),
    address: service.config.PUBLIC_URL,
  };
  return showPage(service, request, reply, 'people/keys', data, { title: 'Access keys', form });
}

/**
 * The one form that is answered with a page and not with a redirection: the key must reach the person without being
 * kept anywhere. It carries no idempotency key for the same reason; sent again, the name is taken.
 */
async function postKey(service: Service, request: FastifyRequest, reply: FastifyReply) {
  try {
    const input = checked(newKeySchema, request.body);
    const { key } = await request.change((work) => addKey(work, { ...input, siteId: request.site.id }));
    return await showKeys(service, request, reply, { made: { name: input.name, key } });
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    reply.status(error.status);
    return showKeys(service, request, reply, { form: refusedForm(request.body, error.fields) });
  }
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This key');
  return submit(request, reply, {
    schema: newKeySchema.partial(),
    act: (work) => endKey(work, id),
    done: ({ name }) => ({
      to: '/people/keys',
      notice: `The key of ${name} is ended. What it posted stays.`,
    }),
    again: (form) =>
      showKeys(service, request, reply, { form: { ...form, typed: { name: '', ...form.typed } } }),
  });
}

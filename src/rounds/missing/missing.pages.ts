import type { FastifyInstance, FastifyRequest } from 'fastify';
import { notFound } from '../../platform/refusal.ts';
import { type ItemCode, itemName } from './item-names.ts';
import { askAgain, setAside } from './missing.ts';

/** Setting what is missing aside, and taking it back. */
export function missingPages(app: FastifyInstance): void {
  app.post('/missing/:item/not-for-us', async (request, reply) => {
    const item = itemOf(request);
    await request.change((work) => setAside(work, request.site.id, item));
    request.session.set('notice', `“${itemName(item)}” is off the list.`);
    return reply.redirect('/', 303);
  });
  app.post('/missing/:item/ask-again', async (request, reply) => {
    const item = itemOf(request);
    await request.change((work) => askAgain(work, request.site.id, item));
    return reply.redirect('/', 303);
  });
}

function itemOf(request: FastifyRequest): ItemCode {
  const { item } = request.params as { item: string };
  if (itemName(item) === null) throw notFound('This item of the list');
  return item as ItemCode;
}

import type { FastifyInstance } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { lotInSlot } from '../../stock/places/slots.ts';

/** A slot by the code on its label: leads to the lot that stands there, or to putting one there. */
export function slotPages(app: FastifyInstance, service: Service): void {
  app.get('/slots/:id', async (request, reply) => {
    const id = pathId(request, 'id', 'This slot');
    const code = await lotInSlot(service.db, id);
    return reply.redirect(code === null ? `/racks/move?slot=${id}` : lotHref(code), 303);
  });
}

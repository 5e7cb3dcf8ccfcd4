import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { backOf } from '../../platform/web/back.ts';
import { pageData } from '../../platform/web/pages.ts';

/** Which pumps are off, for pages that stay open: the banner as it would be drawn now. */
export function pumpsApi(app: FastifyInstance, service: Service): void {
  app.get('/api/pumps', (request, reply) => getPumps(service, request, reply));
}

async function getPumps(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const page = pageData(service, request, reply, { title: 'Pumps off' });
  const pumpsOff = page.pumpsOff === null ? null : { ...page.pumpsOff, back: backOf(request) ?? '/' };
  reply.header('cache-control', 'no-store');
  return {
    nowIso: service.now().toISOString(),
    feedings: request.pageContext.pumpsOff.map(({ feedingId }) => feedingId),
    html: pumpsOff === null ? '' : service.views.render('rounds/pumps', { pumpsOff, page }, null),
  };
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { packSchema, resolvePack } from './senml.rules.ts';
import { savePack } from './senml.ts';

/** Probes and controllers report as SenML (RFC 8428), as JSON. */
export function senmlApi(app: FastifyInstance, service: Service): void {
  app.addContentTypeParser(
    'application/senml+json',
    { parseAs: 'string' },
    app.getDefaultJsonParser('error', 'error'),
  );
  app.post('/api/senml', takes(packSchema, { repeatable: true }), (request, reply) =>
    postPack(service, request, reply),
  );
}

async function postPack(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const pack = checked(packSchema, request.body);
  const resolved = resolvePack(pack, service.now().getTime() / 1000);
  if ('fault' in resolved) throw new Refusal(resolved.fault);
  const result = await request.change((work) => savePack(work, request.site.id, resolved.records));
  return reply.send(result);
}

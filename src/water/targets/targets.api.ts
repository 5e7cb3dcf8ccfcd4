import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { targetFields, targetInputName, targetsSchema } from './targets.schema.ts';
import { setTargets } from './targets.ts';

/** The targets of a system as JSON, under the names of the form: {"salinity-low": 34, "salinity-source": "our own choice"}. */
export function targetApi(app: FastifyInstance, service: Service): void {
  app.post('/api/systems/:id/targets', (request) => postTargets(service, request));
}

/** Quantities of which nothing is sent stay as they are. */
async function postTargets(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This system');
  const sent = Object.keys((request.body ?? {}) as object);
  const quantities = (await listQuantities(service.db)).filter(({ code }) =>
    [...targetFields, 'source' as const, 'sure' as const].some((field) =>
      sent.includes(targetInputName(code, field)),
    ),
  );
  const rows = checked(targetsSchema(quantities), request.body);
  return request.change((work) => setTargets(work, id, rows, quantities));
}

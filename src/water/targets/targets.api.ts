import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { bandSource } from './starting-bands.rules.ts';
import { confirmBands, proposedBands, takeProposedBands } from './starting-bands.ts';
import { targetFields, targetInputName, targetsSchema } from './targets.schema.ts';
import { listTargets, setTargets } from './targets.ts';

/** The targets of a system as JSON, under the names of the form: {"salinity-low": 34, "salinity-source": "our own choice"}. */
export function targetApi(app: FastifyInstance, service: Service): void {
  app.post('/api/systems/:id/targets', (request) => postTargets(service, request));
  app.get('/api/systems/:id/targets', (request) => getTargets(service, request));
  app.post('/api/systems/:id/targets/confirm', (request) =>
    request.change((work) => confirmBands(work, pathId(request, 'id', 'This system'))),
  );
  app.post('/api/systems/:id/targets/proposed', (request) =>
    request.change((work) => takeProposedBands(work, pathId(request, 'id', 'This system'))),
  );
}

/** What a system keeps of each quantity, canonical, and what is proposed where nothing was chosen. */
async function getTargets(service: Service, request: FastifyRequest) {
  const { id } = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const [quantities, targets] = await Promise.all([listQuantities(service.db), listTargets(service.db, id)]);
  const proposed = await proposedBands({ pool: service.pool, quantities }, id, targets);
  const unit = (code: string) => quantities.find((quantity) => quantity.code === code)?.canonicalUnit;
  return {
    systemId: id,
    keeps: [...targets.values()].map(({ systemId: _, source, ...target }) => ({
      ...target,
      unit: unit(target.quantityCode),
      source: bandSource({ starting: target.starting, source }),
    })),
    proposed: proposed.map((band) => ({ ...band, unit: unit(band.quantityCode) })),
  };
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

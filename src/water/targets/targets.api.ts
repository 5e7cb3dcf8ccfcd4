import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Work } from '../../platform/change.ts';
import { answers, takes } from '../../platform/door/takes.ts';
import { holdToStanding, seenOf } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { checked, requiredSeen } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { targetsAnswer } from './answers.schema.ts';
import { bandSource } from './starting-bands.rules.ts';
import { confirmBands, proposedBands, takeProposedBands } from './starting-bands.ts';
import { targetFields, targetInputName, targetsSchema } from './targets.schema.ts';
import { listTargets, setTargets, targetsSeen, targetsStanding } from './targets.ts';

/** The targets of a system as JSON, under the names of the form: {"salinity-low": 34, "salinity-source": "our own choice"}. */
export function targetApi(app: FastifyInstance, service: Service): void {
  app.post(
    '/api/systems/:id/targets',
    takes(() => targetsSchema([]), { answers: z.object({ changed: z.number() }) }),
    (request) => postTargets(service, request),
  );
  app.get('/api/systems/:id/targets', answers(targetsAnswer), (request) => getTargets(service, request));
  app.post('/api/systems/:id/targets/confirm', answers(z.object({ confirmed: z.number() })), (request) =>
    postOver(request, confirmBands),
  );
  app.post('/api/systems/:id/targets/proposed', answers(z.object({ taken: z.number() })), (request) =>
    postOver(request, takeProposedBands),
  );
}

/** What is done to all targets of a system as they were read. */
function postOver<R>(request: FastifyRequest, act: (work: Work, systemId: string) => Promise<R>): Promise<R> {
  const id = pathId(request, 'id', 'This system');
  const seen = requiredSeen(request.body);
  return request.change(async (work) => {
    await holdToStanding(work, seen, targetsStanding(id));
    return act(work, id);
  });
}

/** What a system keeps of each quantity, canonical, and what is proposed where nothing was chosen. */
async function getTargets(service: Service, request: FastifyRequest) {
  const { id } = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const [quantities, targets] = await Promise.all([listQuantities(service.db), listTargets(service.db, id)]);
  const proposed = await proposedBands({ pool: service.pool, quantities }, id, targets);
  const unit = (code: string) => quantities.find((quantity) => quantity.code === code)?.canonicalUnit;
  return {
    systemId: id,
    seen: seenOf(targetsSeen(targets)),
    keeps: [...targets.values()].map(({ systemId: _, source, ...target }) => ({
      ...target,
      unit: unit(target.quantityCode),
      source: bandSource({ starting: target.starting, source }),
    })),
    proposed: proposed.map((band) => ({ ...band, unit: unit(band.quantityCode) })),
  };
}

/** Quantities of which nothing is sent stay as they are; `seen` says what was read before. */
async function postTargets(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This system');
  const sent = Object.keys((request.body ?? {}) as object);
  const quantities = (await listQuantities(service.db)).filter(({ code }) =>
    [...targetFields, 'source' as const, 'sure' as const].some((field) =>
      sent.includes(targetInputName(code, field)),
    ),
  );
  const rows = checked(targetsSchema(quantities), request.body);
  const seen = requiredSeen(request.body);
  return request.change((work) => setTargets(work, id, rows, quantities, seen));
}

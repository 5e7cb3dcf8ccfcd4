import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { dueWork } from './due-work.ts';

/** The work that is due in one system today, as JSON. */
export function dueApi(app: FastifyInstance, service: Service): void {
  app.get('/api/systems/:id/due', (request) => getDue(service, request));
}

async function getDue(service: Service, request: FastifyRequest) {
  const { id } = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  return { tasks: await dueWork(service.pool, [id], service.now()) };
}

import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { dueTask } from './answers.schema.ts';
import { dueWork } from './due-work.ts';

/** The work that is due in one system today, as JSON. */
export function dueApi(app: FastifyInstance, service: Service): void {
  app.get('/api/systems/:id/due', answers(dueAnswer), (request) => getDue(service, request));
}

const dueAnswer = z.object({ tasks: z.array(dueTask) });

async function getDue(service: Service, request: FastifyRequest) {
  const { id } = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  return { tasks: await dueWork(service.pool, [id], service.now()) };
}

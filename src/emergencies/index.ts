import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { emergencyApi } from './running/emergencies.api.ts';
import { emergencyPages } from './running/emergencies.pages.ts';

/** Something is wrong now: what is seen, the steps in order with each system's own numbers, what was done. */
export function emergenciesArea(app: FastifyInstance, service: Service): void {
  emergencyPages(app, service);
  emergencyApi(app, service);
}

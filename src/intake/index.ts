import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { importPages } from './imports.pages.ts';
import { probePages } from './probes.pages.ts';
import { senmlApi } from './senml.api.ts';
import { uploadPages } from './upload.pages.ts';

/** Intake: readings that come in files, and from probes and controllers. */
export async function intakeArea(app: FastifyInstance, service: Service): Promise<void> {
  await uploadPages(app, service);
  importPages(app, service);
  probePages(app, service);
  senmlApi(app, service);
}

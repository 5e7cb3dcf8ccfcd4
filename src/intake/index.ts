import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { importPages } from './imports/imports.pages.ts';
import { uploadPages } from './imports/upload.pages.ts';
import { logImportPages } from './log/log-imports.pages.ts';
import { lotImportPages } from './lots/lot-imports.pages.ts';
import { listenToBroker } from './mqtt/mqtt.ts';
import { topicPages } from './mqtt/topics.pages.ts';
import { probePages } from './probes/probes.pages.ts';
import { senmlApi } from './senml/senml.api.ts';

/** Intake: readings, stock and what was done, in files, and readings from probes and controllers. */
export async function intakeArea(app: FastifyInstance, service: Service): Promise<void> {
  await uploadPages(app, service);
  importPages(app, service);
  await lotImportPages(app, service);
  await logImportPages(app, service);
  probePages(app, service);
  senmlApi(app, service);
  topicPages(app, service);
  listenToBroker(app, service);
}

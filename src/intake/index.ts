import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { importPages } from './imports/imports.pages.ts';
import { uploadPages } from './imports/upload.pages.ts';
import { logImportPages } from './log/log-imports.pages.ts';
import { lotImportPages } from './lots/lot-imports.pages.ts';
import { listenToBroker } from './mqtt/mqtt.ts';
import { topicPages } from './mqtt/topics.pages.ts';
import { probePages } from './probes/probes.pages.ts';
import { placeAndBringIn } from './senml/bring-in.ts';
import { senmlApi } from './senml/senml.api.ts';
import { sendWebhooks, webhookQueue } from './webhooks/deliveries.ts';
import { webhookPages } from './webhooks/webhooks.pages.ts';

const everyMinute = '* * * * *';

/** Intake: readings, stock and what was done, in files, and readings from probes and controllers; and webhooks. */
export async function intakeArea(app: FastifyInstance, service: Service): Promise<void> {
  await uploadPages(app, service);
  importPages(app, service);
  await lotImportPages(app, service);
  await logImportPages(app, service);
  probePages(app, service, placeAndBringIn);
  senmlApi(app, service);
  topicPages(app, service);
  listenToBroker(app, service);
  webhookPages(app, service);
  await service.jobs.work(webhookQueue, async () => {
    await sendWebhooks(service);
  });
  await service.jobs.schedule(webhookQueue, everyMinute, 'UTC');
}

import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { callLetterQueue, sendCall } from './running/call-letters.ts';
import { callWhereSilent } from './running/calls.ts';
import { emergencyApi } from './running/emergencies.api.ts';
import { emergencyPages } from './running/emergencies.pages.ts';

const silenceQueue = 'emergency-silence';
const everyMinute = '* * * * *';

/** Something is wrong now: what is seen, the steps in order with each system's own numbers, what was done. */
export async function emergenciesArea(app: FastifyInstance, service: Service): Promise<void> {
  emergencyPages(app, service);
  emergencyApi(app, service);
  await service.jobs.work<{ entryId: string }>(callLetterQueue, async (jobs) => {
    for (const { entryId } of jobs) await sendCall(service, entryId);
  });
  await service.jobs.work(silenceQueue, () => callWhereSilent(service, service.now()));
  await service.jobs.schedule(silenceQueue, everyMinute, 'UTC');
}

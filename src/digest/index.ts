import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { digestPages } from './digests.pages.ts';
import { makeDueDigests } from './digests.ts';

const queue = 'digests';
const everyMinute = '* * * * *';

/** The digest: its pages, and the look at the clock that makes it. */
export async function digestArea(app: FastifyInstance, service: Service): Promise<void> {
  digestPages(app, service);
  await service.jobs.work(queue, async () => void (await makeDueDigests(service, service.now())));
  await service.jobs.schedule(queue, everyMinute, 'UTC');
}

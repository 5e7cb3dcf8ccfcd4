import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { afterTheWatch } from './after-the-watch.ts';
import { digestPages } from './digests.pages.ts';
import { makeDueDigests } from './digests.ts';
import { sendLetters, writeLetters } from './letters.ts';
import { receiverPages } from './receivers.pages.ts';

const queue = 'digests';
const everyMinute = '* * * * *';

/** The digest: its pages, and the look at the clock that makes it and sends it. */
export async function digestArea(app: FastifyInstance, service: Service): Promise<void> {
  digestPages(app, service);
  receiverPages(app, service);
  const canBeMade = afterTheWatch();
  await service.jobs.work(queue, async () => {
    if (await canBeMade(service.pool, service.now())) await makeDueDigests(service, service.now());
    await writeLetters(service, service.now());
    await sendLetters(service, service.now());
  });
  await service.jobs.schedule(queue, everyMinute, 'UTC');
}

import type { FastifyInstance } from 'fastify';
import { missedTheHour } from '../alerts/gaps/gaps.ts';
import { wakeWebhooks } from '../intake/webhooks/deliveries.ts';
import { evaluationQueue } from '../platform/change.ts';
import type { Service } from '../platform/service.ts';
import { affectedPages } from './affected/affected.pages.ts';
import { compareSites } from './affected/affected.ts';
import { alertApi } from './alerts/alerts.api.ts';
import { alertPages } from './alerts/alerts.pages.ts';
import { doingPages } from './alerts/doing.pages.ts';
import { evaluateDueBack } from './evaluation/due-back.ts';
import { evaluateSystems } from './evaluation/evaluate.ts';
import { evaluateNewDay } from './evaluation/new-day.ts';
import { limitPages } from './settings/settings.pages.ts';
import { trialPages } from './trials/trials.pages.ts';
import { clearTrials } from './trials/trials.ts';

/** Every rule looks once an hour even where nothing was entered: time itself changes what they find. */
const hourly = '7 * * * *';
/** Before the hourly look of the rules, and before digests, which are made at full and half hours. */
const beforeTheHour = '21,51 * * * *';
const affectedQueue = 'compare-affected';
const newDayQueue = 'new-day';
const offQueue = 'switched-off';
const everyMinute = '* * * * *';
const clearingQueue = 'clear-limit-trials';
const nightly = '41 3 * * *';

/** Watch: the rules, the alerts they open, and their limits. */
export async function watchArea(app: FastifyInstance, service: Service): Promise<void> {
  affectedPages(app, service);
  limitPages(app, service);
  await trialPages(app, service);
  alertPages(app, service);
  doingPages(app, service);
  alertApi(app, service);
  await service.jobs.work<{ systemId?: string }>(evaluationQueue, async (jobs) => {
    const systems = jobs.map(({ systemId }) => systemId);
    const named = systems.filter((id) => id !== undefined);
    const which = named.length < systems.length ? 'all' : [...new Set(named)];
    // Where a rule broke, the others opened alerts all the same.
    await evaluateSystems(service, which, service.now()).finally(() => wakeWebhooks(service, service.now()));
  });
  await service.jobs.schedule(evaluationQueue, hourly, 'UTC');
  if (await missedTheHour(service.pool, service.now()))
    await service.db.$transaction((tx) => service.jobs.send(tx, evaluationQueue, {}));
  await service.jobs.work(affectedQueue, () => compareSites(service, service.now()));
  await service.jobs.schedule(affectedQueue, beforeTheHour, 'UTC');
  await service.jobs.work(offQueue, () => evaluateDueBack(service, service.now()));
  await service.jobs.schedule(offQueue, everyMinute, 'UTC');
  let asked = service.now();
  await service.jobs.work(newDayQueue, async () => {
    const now = service.now();
    await evaluateNewDay(service, asked, now);
    asked = now;
  });
  await service.jobs.schedule(newDayQueue, everyMinute, 'UTC');
  await service.jobs.work(clearingQueue, () => clearTrials(service.db, service.now()));
  await service.jobs.schedule(clearingQueue, nightly, 'UTC');
}

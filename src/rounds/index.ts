import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { entryApi } from './entries/entries.api.ts';
import { entryPages } from './entries/entries.pages.ts';
import { planDayPages } from './plans/plan-days.pages.ts';
import { planPages } from './plans/plans.pages.ts';
import { lookAtMissedChecks } from './schedule/missed-checks.ts';
import { pastPages } from './schedule/past-rounds.pages.ts';
import { roundPages } from './schedule/schedule.pages.ts';
import { switchedOffApi } from './screens/switched-off.api.ts';
import { walkApi } from './screens/walks.api.ts';
import { walkPages } from './screens/walks.pages.ts';
import { type NewestDigestDay, todayPages } from './today/today.pages.ts';

const checksQueue = 'checks-left-out';
const everyQuarter = '*/15 * * * *';

/** Rounds: plans, walks, what is noted on them; and the page that says what is to be done today. */
export async function roundsArea(
  app: FastifyInstance,
  service: Service,
  { newestDigestDay }: { newestDigestDay: NewestDigestDay },
): Promise<void> {
  todayPages(app, service, newestDigestDay);
  roundPages(app, service);
  planPages(app, service);
  planDayPages(app, service);
  pastPages(app, service);
  walkPages(app, service);
  entryPages(app, service);
  walkApi(app, service);
  entryApi(app, service);
  switchedOffApi(app, service);
  await service.jobs.work(checksQueue, () => lookAtMissedChecks(service, service.now()));
  await service.jobs.schedule(checksQueue, everyQuarter, 'UTC');
}

import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { calendarPages } from './calendar/calendar.pages.ts';
import { entryApi } from './entries/entries.api.ts';
import { entryPages } from './entries/entries.pages.ts';
import { missingPages } from './missing/missing.pages.ts';
import { planCopyPages } from './plans/copies.pages.ts';
import { planDayPages } from './plans/plan-days.pages.ts';
import { planPages } from './plans/plans.pages.ts';
import { lookAtMissedChecks } from './schedule/missed-checks.ts';
import { pastPages, roundPages } from './schedule/schedule.pages.ts';
import { screenApi } from './screens/screens.api.ts';
import { screenPages } from './screens/screens.pages.ts';
import { switchedOffApi } from './screens/switched-off.api.ts';
import { type NewestDigestDay, todayPages } from './today/today.pages.ts';

const checksQueue = 'checks-left-out';
const everyQuarter = '*/15 * * * *';

/** Rounds: plans, the schedule, rounds and their entries; and the page that says what is to be done today. */
export async function roundsArea(
  app: FastifyInstance,
  service: Service,
  { newestDigestDay }: { newestDigestDay: NewestDigestDay },
): Promise<void> {
  missingPages(app);
  todayPages(app, service, newestDigestDay);
  roundPages(app, service);
  planPages(app, service);
  planCopyPages(app, service);
  planDayPages(app, service);
  pastPages(app, service);
  screenPages(app, service);
  entryPages(app, service);
  screenApi(app, service);
  entryApi(app, service);
  switchedOffApi(app, service);
  calendarPages(app, service);
  await service.jobs.work(checksQueue, () => lookAtMissedChecks(service, service.now()));
  await service.jobs.schedule(checksQueue, everyQuarter, 'UTC');
}

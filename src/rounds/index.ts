import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { entryApi } from './entries.api.ts';
import { entryPages } from './entries.pages.ts';
import { pastPages } from './past.pages.ts';
import { planDayPages } from './plan-days.pages.ts';
import { planPages } from './plans.pages.ts';
import { pumpsApi } from './pumps.api.ts';
import { roundPages } from './rounds.pages.ts';
import { type NewestDigestDay, todayPages } from './today.pages.ts';
import { walkApi } from './walks.api.ts';
import { walkPages } from './walks.pages.ts';

/** Rounds: plans, walks, what is noted on them; and the page that says what is to be done today. */
export function roundsArea(
  app: FastifyInstance,
  service: Service,
  { newestDigestDay }: { newestDigestDay: NewestDigestDay },
): void {
  todayPages(app, service, newestDigestDay);
  roundPages(app, service);
  planPages(app, service);
  planDayPages(app, service);
  pastPages(app, service);
  walkPages(app, service);
  entryPages(app, service);
  walkApi(app, service);
  entryApi(app, service);
  pumpsApi(app, service);
}

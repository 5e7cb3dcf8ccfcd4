import type { FastifyInstance } from 'fastify';
import { copyToSystemsPage } from '../../farm/systems/copies.pages.ts';
import type { Service } from '../../platform/service.ts';
import { copyPlan, planNames } from './copies.ts';
import { planId } from './plans.pages.ts';
import { findPlan } from './plans.ts';

/** A round plan, made for other systems as well. */
export function planCopyPages(app: FastifyInstance, service: Service): void {
  copyToSystemsPage(app, service, {
    path: '/rounds/plans/:id/copies',
    area: 'rounds',
    noun: 'round plan',
    async load(request) {
      const plan = await findPlan(service.db, planId(request));
      return {
        heading: `Copy the round plan ${plan.name}`,
        what: 'A plan for each system you tick, past all of its tanks: the same time, days, steps, chores and walker.',
        crumbs: [
          { href: '/rounds/plans', text: 'Round plans' },
          { href: `/rounds/plans/${plan.id}`, text: plan.name },
        ],
        ...{ fromId: null, has: await planNames(service.db, request.site.id), back: '/rounds/plans' },
      };
    },
    copy: (work, request, input) => copyPlan(work, planId(request), input),
  });
}

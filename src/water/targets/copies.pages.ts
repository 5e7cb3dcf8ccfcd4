import type { FastifyInstance } from 'fastify';
import { copyToSystemsPage } from '../../farm/systems/copies.pages.ts';
import { listOpenSystems } from '../../farm/systems/systems.ts';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { copyTargets, siteTargetsStanding, targetNames } from './copies.ts';

/** "Use these targets for ...": the targets of one system for others. */
export function targetCopyPages(app: FastifyInstance, service: Service): void {
  copyToSystemsPage(app, service, {
    path: '/water/systems/:id/targets/copies',
    area: 'water',
    noun: 'targets',
    async load(request) {
      const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
      const systems = await listOpenSystems(service.db, request.site.id);
      const has = await targetNames(
        service.db,
        systems.map(({ id }) => id),
      );
      const own = has.get(system.id) ?? [];
      return {
        heading: `Use the targets of ${system.name} for others`,
        what: `Bands, limits and make-up water of ${own.join(', ') || 'nothing yet'}, each with its source. Look at each system’s levels before: a band that suits one may not suit another’s stock.`,
        crumbs: [
          { href: `/water/systems/${system.id}`, text: system.name },
          { href: `/water/systems/${system.id}/targets`, text: 'Targets' },
        ],
        ...{ fromId: system.id, has, back: `/water/systems/${system.id}/targets` },
      };
    },
    over: (request) => siteTargetsStanding(request.site.id),
    copy: (work, request, input) => copyTargets(work, pathId(request, 'id', 'This system'), input),
  });
}

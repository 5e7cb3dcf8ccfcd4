import type { FastifyInstance } from 'fastify';
import { copyToSystemsPage } from '../../farm/systems/copies.pages.ts';
import { listOpenSystems } from '../../farm/systems/systems.ts';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { copyRoutines, routineTitles } from './copies.ts';

/** The routines of one system, planned for others as well. */
export function routineCopyPages(app: FastifyInstance, service: Service): void {
  copyToSystemsPage(app, service, {
    path: '/water/systems/:id/routines/copies',
    area: 'water',
    noun: 'routines',
    async load(request) {
      const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
      const systems = await listOpenSystems(service.db, request.site.id);
      const ids = systems.map(({ id }) => id);
      return {
        heading: `Copy the routines of ${system.name}`,
        what: 'Water changes and doses are scaled by the volume of each system, feedings of a whole system are taken as they are, those of one tank are left out. Check the doses: another stock uses another amount.',
        crumbs: [
          { href: `/water/systems/${system.id}`, text: system.name },
          { href: `/water/systems/${system.id}/routines`, text: 'Routines' },
        ],
        has: await routineTitles(service.pool, ids, service.now()),
        ...{ fromId: system.id, back: `/water/systems/${system.id}/routines` },
      };
    },
    copy: (work, request, input) => copyRoutines(work, pathId(request, 'id', 'This system'), input),
  });
}

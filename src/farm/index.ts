import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { lampPages } from './lamps/lamps.pages.ts';
import { rackSetupPages } from './racks/setup.pages.ts';
import { slotPages } from './racks/slots.pages.ts';
import { sitePages } from './sites/sites.pages.ts';
import { surveyApi } from './surveys/surveys.api.ts';
import { systemPages } from './systems/systems.pages.ts';
import { pumpPages } from './tanks/pumps.pages.ts';
import { tankPages } from './tanks/tanks.pages.ts';

/** The farm: sites, systems, tanks, racks, lamps, and the light that was measured. */
export function farmArea(app: FastifyInstance, service: Service): void {
  sitePages(app, service);
  systemPages(app, service);
  tankPages(app, service);
  rackSetupPages(app, service);
  lampPages(app, service);
  pumpPages(app, service);
  slotPages(app, service);
  surveyApi(app, service);
}

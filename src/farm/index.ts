import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { settingPages } from '../racks/lamp-effect/lamp-settings.pages.ts';
import { moveApi } from '../racks/moves/moves.api.ts';
import { movePages } from '../racks/moves/moves.pages.ts';
import { overviewPages } from '../racks/overview/overview.pages.ts';
import { rackPages } from '../racks/rack-page/rack.pages.ts';
import { surveyPages } from '../racks/survey-pages/surveys.pages.ts';
import { lampPages } from './lamps/lamps.pages.ts';
import { rackSetupPages } from './racks/setup.pages.ts';
import { slotPages } from './racks/slots.pages.ts';
import { sitePages } from './sites/sites.pages.ts';
import { surveyApi } from './surveys/surveys.api.ts';
import { systemPages } from './systems/systems.pages.ts';
import { pumpPages } from './tanks/pumps.pages.ts';
import { tankPages } from './tanks/tanks.pages.ts';

/** The farm: site, systems, tanks, racks, lamps, light and flow. */
export function farmArea(app: FastifyInstance, service: Service): void {
  sitePages(app, service);
  systemPages(app, service);
  tankPages(app, service);
  rackSetupPages(app, service);
  lampPages(app, service);
  pumpPages(app, service);
  settingPages(app, service);
  overviewPages(app, service);
  rackPages(app, service);
  movePages(app, service);
  moveApi(app, service);
  slotPages(app, service);
  surveyPages(app, service);
  surveyApi(app, service);
}

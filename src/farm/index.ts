import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { contactPages } from './contacts/contacts.pages.ts';
import { circuitPages } from './equipment/circuits.pages.ts';
import { equipmentPages } from './equipment/equipment.pages.ts';
import { faultPages } from './equipment/faults.pages.ts';
import { eventPages } from './events/events.pages.ts';
import { lampPages } from './lamps/lamps.pages.ts';
import type { LotsOnRack } from './racks/racks.ts';
import { rackSetupPages } from './racks/setup.pages.ts';
import { slotPages } from './racks/slots.pages.ts';
import { sitePages } from './sites/sites.pages.ts';
import { surveyApi } from './surveys/surveys.api.ts';
import { switchedOffPages } from './switched-off/switched-off.pages.ts';
import { offTimePages } from './switched-off/times.pages.ts';
import { systemPages } from './systems/systems.pages.ts';
import type { CountLots } from './systems/systems.ts';
import { tankPages } from './tanks/tanks.pages.ts';

/** What the farm asks about lots before it closes a system or makes a rack smaller; an area above it answers. */
export interface LotQueries {
  countLotsInSystem: CountLots;
  lotsOnRack: LotsOnRack;
}

/** The farm: sites, systems, tanks, racks, lamps, and the light that was measured. */
export function farmArea(app: FastifyInstance, service: Service, lots: LotQueries): void {
  sitePages(app, service);
  contactPages(app, service);
  systemPages(app, service, lots.countLotsInSystem);
  tankPages(app, service);
  rackSetupPages(app, service, lots.lotsOnRack);
  lampPages(app, service);
  equipmentPages(app, service);
  circuitPages(app, service);
  faultPages(app, service);
  eventPages(app, service);
  switchedOffPages(app, service);
  offTimePages(app, service);
  slotPages(app, service);
  surveyApi(app, service);
}

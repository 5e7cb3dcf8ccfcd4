import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { contactPages } from './contacts/contacts.pages.ts';
import { circuitPages } from './equipment/circuits.pages.ts';
import { equipmentPages } from './equipment/equipment.pages.ts';
import { faultPages } from './equipment/faults.pages.ts';
import { equipmentMovePages } from './equipment/moves.pages.ts';
import type { LeftInDosers } from './equipment/reservoir.rules.ts';
import { upkeepPages } from './equipment/upkeep.pages.ts';
import { eventPages } from './events/events.pages.ts';
import { lampMovePages } from './lamps/lamp-moves.pages.ts';
import { lampPages } from './lamps/lamps.pages.ts';
import { lampsEachPages } from './lamps/lamps-each.pages.ts';
import { copyPages } from './racks/copies.pages.ts';
import type { LotsOnRack } from './racks/racks.ts';
import { rackSetupPages } from './racks/setup.pages.ts';
import { slotSizePages } from './racks/slot-sizes.pages.ts';
import { slotPages } from './racks/slots.pages.ts';
import { tankFlowPages } from './racks/tank-flow.pages.ts';
import { roomPages } from './rooms/rooms.pages.ts';
import { allSitesPages } from './sites/all-sites.pages.ts';
import { reachPages } from './sites/reach.pages.ts';
import { sitePages } from './sites/sites.pages.ts';
import { surveyApi } from './surveys/surveys.api.ts';
import { switchedOffPages } from './switched-off/switched-off.pages.ts';
import { offTimePages } from './switched-off/times.pages.ts';
import { type AroundSystems, systemPages } from './systems/systems.pages.ts';
import { tankPages } from './tanks/tanks.pages.ts';
import type { WaterOfTankChanges } from './tanks/tanks.ts';

/** What the farm asks about lots, kinds and bands when systems and racks are set up or changed; areas above it answer. */
export interface AroundFarm extends AroundSystems {
  lotsOnRack: LotsOnRack;
  leftInDosers: LeftInDosers;
  waterOfTankChanges: WaterOfTankChanges;
}

/** The farm: sites, systems, tanks, racks, lamps, and the light that was measured. */
export function farmArea(app: FastifyInstance, service: Service, around: AroundFarm): void {
  sitePages(app, service);
  allSitesPages(app, service);
  reachPages(app, service);
  roomPages(app, service);
  contactPages(app, service);
  systemPages(app, service, around);
  tankPages(app, service, around.waterOfTankChanges);
  rackSetupPages(app, service, around.lotsOnRack);
  copyPages(app, service);
  tankFlowPages(app, service);
  slotSizePages(app, service);
  lampsEachPages(app, service);
  lampPages(app, service);
  lampMovePages(app, service);
  equipmentMovePages(app, service);
  upkeepPages(app, service);
  equipmentPages(app, service, around.leftInDosers);
  circuitPages(app, service);
  faultPages(app, service);
  eventPages(app, service);
  switchedOffPages(app, service);
  offTimePages(app, service);
  slotPages(app, service);
  surveyApi(app, service);
}

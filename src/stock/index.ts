import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { newAcclimationPages } from './acclimation-new.pages.ts';
import { acclimationApi } from './acclimations.api.ts';
import { acclimationPages } from './acclimations.pages.ts';
import { carePages } from './care.pages.ts';
import { conditionPages } from './conditions.pages.ts';
import { cutPages } from './cuts.pages.ts';
import { identificationPages } from './identifications.pages.ts';
import { kindPages } from './kinds/kinds.pages.ts';
import { ledgerPages } from './ledger.pages.ts';
import { lotApi } from './lots.api.ts';
import { lotPages } from './lots.pages.ts';
import { newMovePlanPages } from './move-plan-new.pages.ts';
import { movePlanApi } from './move-plans.api.ts';
import { movePlanPages } from './move-plans.pages.ts';
import { photoApi } from './photos.api.ts';
import { photoPages } from './photos.pages.ts';
import { placementPages } from './placements.pages.ts';
import { readinessPages } from './readiness.pages.ts';
import { recordPages } from './record.pages.ts';
import { salePages } from './sales.pages.ts';
import { searchPages } from './search.pages.ts';

/** Stock: lots, what they are, how many, where they stand and how they do; kinds and their care. */
export async function stockArea(app: FastifyInstance, service: Service): Promise<void> {
  searchPages(app, service);
  lotPages(app, service);
  readinessPages(app, service);
  recordPages(app, service);
  salePages(app, service);
  placementPages(app, service);
  newMovePlanPages(app, service);
  movePlanPages(app, service);
  movePlanApi(app, service);
  newAcclimationPages(app, service);
  acclimationPages(app, service);
  acclimationApi(app, service);
  conditionPages(app, service);
  ledgerPages(app, service);
  cutPages(app, service);
  identificationPages(app, service);
  carePages(app, service);
  kindPages(app, service);
  lotApi(app, service);
  await photoPages(app, service);
  await photoApi(app, service);
}

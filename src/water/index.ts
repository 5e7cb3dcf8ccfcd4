import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { correctionsApi } from './corrections/corrections.api.ts';
import { correctionPages } from './corrections/corrections.pages.ts';
import { newCorrectionPages } from './corrections/new.pages.ts';
import { demandApi } from './demand/demand.api.ts';
import { demandPages } from './demand/demand.pages.ts';
import { doserPages } from './dosers/dosers.pages.ts';
import { postDueDoses } from './dosers/posting.ts';
import { dueApi } from './due/due.api.ts';
import { checkPages } from './kits/checks.pages.ts';
import { kitPages } from './kits/kits.pages.ts';
import { methodPages } from './kits/methods.pages.ts';
import { logApi } from './log/log.api.ts';
import { logPages } from './log/log.pages.ts';
import { nutrientPages } from './nutrients/nutrients.pages.ts';
import { waterOverviewPages } from './overview/overview.pages.ts';
import { unitPages } from './quantities/units.pages.ts';
import { readingPages } from './readings/amendments.pages.ts';
import { entryFormPages } from './readings/entry-form.pages.ts';
import { formOrderPages } from './readings/form-order.pages.ts';
import { hydrometerPages } from './readings/hydrometer.pages.ts';
import { readingsApi } from './readings/readings.api.ts';
import { routineCopyPages } from './routines/copies.pages.ts';
import { routineApi } from './routines/routines.api.ts';
import { routinePages } from './routines/routines.pages.ts';
import { systemWaterPages } from './system-page/system-page.pages.ts';
import { targetCopyPages } from './targets/copies.pages.ts';
import { targetApi } from './targets/targets.api.ts';
import { targetPages } from './targets/targets.pages.ts';
import { voidingPages } from './voiding/voiding.pages.ts';

const doserQueue = 'dosers';
/** Often, so that each site's midnight and a service that comes back are followed soon; work is done once a day. */
const everyQuarter = '4-59/15 * * * *';

/** Registers every route of the water area: readings, what is done to the water, and what each system keeps. */
export async function waterArea(app: FastifyInstance, service: Service): Promise<void> {
  waterOverviewPages(app, service);
  systemWaterPages(app, service);
  entryFormPages(app, service);
  readingPages(app, service);
  formOrderPages(app, service);
  logPages(app, service);
  doserPages(app, service);
  voidingPages(app, service);
  targetPages(app, service);
  targetCopyPages(app, service);
  targetApi(app, service);
  hydrometerPages(app, service);
  kitPages(app, service);
  checkPages(app, service);
  methodPages(app, service);
  routinePages(app, service);
  routineCopyPages(app, service);
  routineApi(app, service);
  dueApi(app, service);
  demandPages(app, service);
  demandApi(app, service);
  nutrientPages(app, service);
  unitPages(app, service);
  correctionPages(app, service);
  newCorrectionPages(app, service);
  correctionsApi(app, service);
  readingsApi(app, service);
  logApi(app, service);
  await service.jobs.work(doserQueue, () => postDueDoses(service));
  await service.jobs.schedule(doserQueue, everyQuarter, 'UTC');
}

import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { correctionsApi } from './corrections/corrections.api.ts';
import { correctionPages } from './corrections/corrections.pages.ts';
import { newCorrectionPages } from './corrections/new.pages.ts';
import { demandApi } from './demand/demand.api.ts';
import { demandPages } from './demand/demand.pages.ts';
import { dueApi } from './due/due.api.ts';
import { kitPages } from './kits/kits.pages.ts';
import { methodPages } from './kits/methods.pages.ts';
import { logPages } from './log/log.pages.ts';
import { nutrientPages } from './nutrients/nutrients.pages.ts';
import { waterOverviewPages } from './overview/overview.pages.ts';
import { unitPages } from './quantities/units.pages.ts';
import { benchOrderPages } from './readings/form-order.pages.ts';
import { hydrometerPages } from './readings/hydrometer.pages.ts';
import { readingPages } from './readings/readings.pages.ts';
import { routineApi } from './routines/routines.api.ts';
import { routinePages } from './routines/routines.pages.ts';
import { systemWaterPages } from './system-page/system-page.pages.ts';
import { targetPages } from './targets/targets.pages.ts';
import { voidingPages } from './voiding/voiding.pages.ts';
import { waterApi } from './water.api.ts';

/** Registers every route of the water area: readings, what is done to the water, and what each system keeps. */
export function waterArea(app: FastifyInstance, service: Service): void {
  waterOverviewPages(app, service);
  systemWaterPages(app, service);
  readingPages(app, service);
  benchOrderPages(app, service);
  logPages(app, service);
  voidingPages(app, service);
  targetPages(app, service);
  hydrometerPages(app, service);
  kitPages(app, service);
  methodPages(app, service);
  routinePages(app, service);
  routineApi(app, service);
  dueApi(app, service);
  demandPages(app, service);
  demandApi(app, service);
  nutrientPages(app, service);
  unitPages(app, service);
  correctionPages(app, service);
  newCorrectionPages(app, service);
  correctionsApi(app, service);
  waterApi(app, service);
}

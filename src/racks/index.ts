import type { FastifyInstance } from 'fastify';
import type { Service } from '../platform/service.ts';
import { lampSettingPages } from './lamp-effect/lamp-settings.pages.ts';
import { movePlanApi } from './move-plans/move-plans.api.ts';
import { movePlanPages } from './move-plans/move-plans.pages.ts';
import { newMovePlanPages } from './move-plans/new.pages.ts';
import { moveApi } from './moves/moves.api.ts';
import { movePages } from './moves/moves.pages.ts';
import { severalMovePages } from './moves/several.pages.ts';
import { overviewPages } from './overview/overview.pages.ts';
import { paperPages } from './paper/paper.pages.ts';
import { rackPages } from './rack-page/rack.pages.ts';
import { slotPages } from './rack-page/slot.pages.ts';
import { surveyPages } from './survey-pages/surveys.pages.ts';

/** Racks with the lots on them: drawn, measured, moved and planned. */
export function racksArea(app: FastifyInstance, service: Service): void {
  overviewPages(app, service);
  rackPages(app, service);
  slotPages(app, service);
  paperPages(app, service);
  surveyPages(app, service);
  lampSettingPages(app, service);
  movePages(app, service);
  severalMovePages(app, service);
  moveApi(app, service);
  newMovePlanPages(app, service);
  movePlanPages(app, service);
  movePlanApi(app, service);
}

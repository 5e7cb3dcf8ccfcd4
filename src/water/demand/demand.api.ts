import type { FastifyInstance, FastifyRequest } from 'fastify';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { dateAtDay } from '../../science/numeric/time.ts';
import { heldBack, heldDoses, type ToldAdvice } from '../systems/held-doses.ts';
import { findWaterSystem, type WaterSystem } from '../systems/systems.ts';
import { demandAnswer } from './answers.schema.ts';
import { figuresSaid } from './nutrient-words.rules.ts';
import type { DemandRate } from './rate.rules.ts';
import { unknownIn } from './unknown-doses.rules.ts';
import { type DemandFigures, readDemandView } from './view.ts';
import { dosingAdvice, shiftWords } from './words.rules.ts';

/** A system's demand as JSON, in canonical units: net change a day with changes and doses taken out; use is below 0. */
export function demandApi(app: FastifyInstance, service: Service): void {
  app.get('/api/systems/:id/demand', answers(demandAnswer), (request) => getDemand(service, request));
}

async function getDemand(service: Service, request: FastifyRequest) {
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const view = await readDemandView(service, system, service.now());
  const { ratio } = view;
  const held = await heldDoses(service.pool, system.id, service.now());
  return {
    systemId: system.id,
    volumeL: system.volumeL,
    quantities: view.figures.map((figures) => quantityJson(figures, system, held)),
    calciumPerAlkalinity:
      ratio === null || ratio.ratio === null ? null : { ...ratio.ratio, days: ratio.days, unit: 'mg/meq' },
  };
}

function quantityJson(figures: DemandFigures, system: WaterSystem, held: readonly ToldAdvice[]) {
  const { quantity, now, days, weeks, supply, shift, data, today } = figures;
  const { code, canonicalUnit } = quantity;
  const { volumeL } = system;
  const { settles, all } = figuresSaid(figures, system.id);
  return {
    quantityCode: code,
    unit: `${canonicalUnit}/d`,
    rate: now.rate === null ? null : rateJson(now.rate),
    figures: all,
    cannotTell: now.rate === null ? now.why : null,
    means: dosingAdvice(quantity, now, supply, { volumeL, data, today, settles, before: figures.before }),
    heldBackBy: heldBack(held, code),
    returnedByChanges: supply?.returned ?? null,
    change:
      shift === null || data.doser != null
        ? null
        : {
            share: shift.share,
            low: shift.shareLow,
            high: shift.shareHigh,
            usual: -shift.usual,
            days: shift.days,
            words: shiftWords(quantity, shift, now.rate === null ? [] : unknownIn(data, now.rate)),
          },
    history: weeks.map(({ day, rate }) => ({
      to: instant(day),
      days,
      rate: rate === null ? null : rateJson(rate),
    })),
  };
}

const instant = (day: number) => dateAtDay(day).toISOString();

function rateJson({
  perDay,
  low,
  high,
  fromDay,
  toDay,
  readings,
  dosedPerDay,
  changedPerDay,
  leftOut,
}: DemandRate) {
  return {
    perDay,
    low,
    high,
    from: instant(fromDay),
    to: instant(toDay),
    hours: (toDay - fromDay) * 24,
    readings,
    dosedPerDay,
    changedPerDay,
    leftOut: Object.fromEntries(leftOut),
  };
}

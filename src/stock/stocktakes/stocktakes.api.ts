import type { FastifyInstance } from 'fastify';
import { answers } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { stocktakeAnswer } from './answers.schema.ts';
import { findStocktake, lotsOf, progressOf, racksOf } from './state.ts';
import { lotLine } from './stocktakes.words.ts';

/** A stocktake as JSON: what the page says of each lot. What is hidden there is not told here. */
export function stocktakeApi(app: FastifyInstance, service: Service): void {
  app.get('/api/stocktakes/:id', answers(stocktakeAnswer), async (request) => {
    const { pool } = service;
    const stocktake = await findStocktake(pool, pathId(request, 'id', 'This stocktake'));
    const racks = await racksOf(pool, stocktake.id);
    const ids = racks.map(({ id }) => id);
    const lots = await lotsOf(pool, stocktake, ids);
    const { id, name, hidden, twoPeople, startedAt, startedBy, closedAt, closedBy, note } = stocktake;
    return {
      ...{ id, name, hidden, twoPeople, startedAt, startedBy, closedAt, closedBy, note },
      progress: progressOf(lots),
      racks: racks.map((rack) => ({
        id: rack.id,
        name: rack.name,
        lots: lots
          .filter(({ rackId }) => rackId === rack.id)
          .map((lot) => {
            const { lineId, name: called, kind, state, said, counts } = lotLine(lot, rack, stocktake);
            return { lineId, lotId: lot.lotId, name: called, kind, state, said, counts, reason: lot.reason };
          }),
      })),
    };
  });
}

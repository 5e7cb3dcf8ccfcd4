import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { asks } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { stocktakeAnswer } from './answers.schema.ts';
import { type CountedRack, findStocktake, lotsOf, progressOf, racksOf } from './state.ts';
import { lotLine } from './stocktakes.words.ts';

/** A stocktake as JSON: what the page says of each lot. What is hidden there is not told here. */
export function stocktakeApi(app: FastifyInstance, service: Service): void {
  app.get('/api/stocktakes/:id', asks(pageQuery, stocktakeAnswer), async (request) => {
    const { pool } = service;
    const page = pageAsked<RackPlace>(checked(pageQuery, request.query), placeSchema, bounds);
    const stocktake = await findStocktake(pool, pathId(request, 'id', 'This stocktake'));
    const racks = await racksOf(pool, stocktake.id);
    const ids = racks.map(({ id }) => id);
    const lots = await lotsOf(pool, stocktake, ids);
    const byRack = Map.groupBy(lots, ({ rackId }) => rackId);
    const { some, next } = pageOf(racks.filter(isBehind(page.after)), page.limit, placeOfRack);
    const { id, name, hidden, twoPeople, startedAt, startedBy, closedAt, closedBy, note } = stocktake;
    return {
      ...{ id, name, hidden, twoPeople, startedAt, startedBy, closedAt, closedBy, note },
      progress: progressOf(lots),
      racks: some.map((rack) => ({
        id: rack.id,
        name: rack.name,
        lots: (byRack.get(rack.id) ?? []).map((lot) => {
          const { lineId, name: called, kind, state, said, counts } = lotLine(lot, rack, stocktake);
          return { lineId, lotId: lot.lotId, name: called, kind, state, said, counts, reason: lot.reason };
        }),
      })),
      next,
    };
  });
}

/** Racks of one answer: a rack has some tens of lots (own choices). */
const bounds = { things: 'racks', most: 200, usual: 50 };

const pageQuery = z.object(pageFields(bounds));

/** Where a rack stands in the walk of a stocktake. */
type RackPlace = readonly [position: number, id: string];

const placeSchema = z.tuple([z.number().int(), z.uuid()]);

const placeOfRack = ({ position, id }: CountedRack): RackPlace => [position, id];

const isBehind = (after: RackPlace | null) => (rack: CountedRack) =>
  after === null || rack.position > after[0] || (rack.position === after[0] && rack.id > after[1]);

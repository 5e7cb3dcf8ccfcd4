import type { FastifyInstance, FastifyRequest } from 'fastify';
import { asks, takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { passName } from '../kinds/name-check.ts';
import { lotsAnswer, madeLot } from './answers.schema.ts';
import { lotQuerySchema, newLotOf, newLotSchema } from './lots.schema.ts';
import { addLot } from './lots.ts';
import { findLots } from './search.ts';

/** Finding lots and taking one in, as JSON. */
export function lotApi(app: FastifyInstance, service: Service): void {
  app.get('/api/lots', asks(lotQuerySchema, lotsAnswer), (request) => getLots(service, request));
  app.post(
    '/api/lots',
    takes(({ now, site }) => newLotSchema(site, now), { answers: madeLot }),
    async (request, reply) => {
      const typed = checked(newLotSchema(request.site, service.now()), request.body);
      const lot = await request.change(async (work) => {
        await passName(work.tx, { ...typed, name: typed.scientificName });
        return addLot(work, newLotOf(typed, request.site.id));
      });
      return reply.status(201).send(lot);
    },
  );
}

async function getLots(service: Service, request: FastifyRequest) {
  const { q: text, only, group: groupId, page } = lotQuerySchema.parse(request.query);
  return findLots(service.pool, { siteId: request.site.id, text, only, groupId, page }, service.now());
}

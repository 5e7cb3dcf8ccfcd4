import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { text } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { meaningOf, placeWords } from './effects.ts';
import { findMover } from './moves.ts';

/** Moves as JSON. */
export function moveApi(app: FastifyInstance, service: Service): void {
  app.get('/api/moves/meaning', (request) => getMeaning(service, request));
}

const meaningQuery = z.object({
  lot: text('the code of the lot', 20),
  slot: z.uuid('Name the slot by its id.'),
});

/** What moving a lot to a slot means, for an answer while a finger or a mouse is still over it. */
async function getMeaning(service: Service, request: FastifyRequest) {
  const { lot: code, slot } = checked(meaningQuery, request.query);
  const lot = await findMover(service.pool, request.site.id, code);
  const { goal, taken, meaning, neighbours } = await meaningOf(service, lot, [slot]);
  return { lot: lot.code, to: placeWords(goal), taken: taken?.code ?? null, ...meaning, neighbours };
}

import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { asks } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { text } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { effectOfMove, targetWords } from './effects.ts';
import { findMovableLot } from './moves.ts';

/** Moves as JSON. */
export function moveApi(app: FastifyInstance, service: Service): void {
  app.get('/api/moves/meaning', asks(effectQuery, effectAnswer), (request) => getEffect(service, request));
}

const effectQuery = z.object({
  lot: text('the code of the lot', 20),
  slot: z.uuid('Name the slot by its id.'),
});

const effectAnswer = z.object({
  lot: z.string(),
  to: z.string(),
  taken: z.string().nullable(),
  statements: z.array(z.string()),
  risks: z.array(z.string()),
  inSteps: z.boolean(),
  neighbours: z.array(z.string()),
});

/** What moving a lot to a slot means; asked while a pointer is still over the slot. */
async function getEffect(service: Service, request: FastifyRequest) {
  const { lot: code, slot } = checked(effectQuery, request.query);
  const lot = await findMovableLot(service.pool, request.site.id, code);
  const { target, taken, effect, neighbours } = await effectOfMove(service, lot, [slot]);
  return { lot: lot.code, to: targetWords(target), taken: taken?.code ?? null, ...effect, neighbours };
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { change } from '../../platform/change.ts';
import { takes } from '../../platform/door/takes.ts';
import { Gatherers } from '../../platform/gather.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { packSchema, type ResolvedRecord, resolvePack } from './senml.rules.ts';
import { type PackResult, savePack, savePacks } from './senml.ts';

/** Probes and controllers report as SenML (RFC 8428), as JSON. */
export function senmlApi(app: FastifyInstance, service: Service): void {
  app.addContentTypeParser(
    'application/senml+json',
    { parseAs: 'string' },
    app.getDefaultJsonParser('error', 'error'),
  );
  const gathered = gatheredPacks(service);
  app.post('/api/senml', takes(packSchema, { repeatable: true, answers: packAnswer }), (request, reply) =>
    postPack(service, gathered, request, reply),
  );
}

/** What became of a pack. */
const packAnswer = z.object({
  taken: z.number(),
  present: z.number(),
  rejected: z.array(
    z.object({
      name: z.string(),
      at: z.string(),
      value: z.number(),
      reason: z.string(),
    }),
  ),
  unknown: z.array(z.string()),
});

/** So many records are written together at most, so that a transaction stays short; a larger pack goes by itself (own choice). */
const mostTogether = 2_000;
/** How long the first of some packs waits for others; own choice. */
const waitMs = 4;

interface WaitingPack {
  siteId: string;
  origin: { accountId: string | null; accessKeyId: string | null };
  records: ResolvedRecord[];
}

/**
 * Packs of one sender that come at almost the same time are written together; each is answered when its rows are safe. What
 * comes while some are written waits here and not in the database, where each would hold a connection and a transaction until
 * the names that both have are free.
 */
const gatheredPacks = (service: Service) =>
  new Gatherers<WaitingPack, PackResult>({
    together: async (packs) => {
      const [first] = packs;
      if (first === undefined) return [];
      return change(service, first.origin, (work) =>
        savePacks(
          work,
          first.siteId,
          packs.map(({ records }) => records),
        ),
      );
    },
    size: ({ records }) => records.length,
    most: mostTogether,
    waitMs,
  });

async function postPack(
  service: Service,
  gathered: Gatherers<WaitingPack, PackResult>,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const pack = checked(packSchema, request.body);
  const resolved = resolvePack(pack, service.now().getTime() / 1000);
  if ('fault' in resolved) throw new Refusal(resolved.fault);
  const { records } = resolved;
  const siteId = request.site.id;
  // What comes under an Idempotency-Key is a change of its own, whose answer is kept.
  const { machine } = request;
  if (machine === null || 'idempotency-key' in request.headers)
    return reply.send(await request.change((work) => savePack(work, siteId, records)));
  const origin = { accountId: null, accessKeyId: machine.id };
  return reply.send(await gathered.do(`${siteId} ${origin.accessKeyId}`, { siteId, origin, records }));
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { sendLong } from '../../platform/door/long-answers.ts';
import { asks, type Takes, takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { optionalText, text } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { biasCorrector } from '../kits/bias.ts';
import { holdPackedToSite } from '../probe-days/unpacked.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { period, readPeriod, readSystemAndPeriod, systemAndPeriod } from '../systems/period.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { listTargets } from '../targets/targets.ts';
import { moveReading } from './amendments.ts';
import { enteredAnswer, movedAnswer, readingsAnswer, samplesAnswer, seriesAnswer } from './answers.schema.ts';
import { enterSamples } from './probe-samples.ts';
import { batchRequest, moveSchema, readingsRequest } from './readings.schema.ts';
import { enterReadings } from './readings.ts';
import { readingSeries, type SeriesQuestion } from './series.ts';

/** Readings as JSON, by the same operations as the pages: what was read, one quantity as a series, and new readings. */
export function readingsApi(app: FastifyInstance, service: Service): void {
  app.get('/api/readings', asks(systemAndPeriod, readingsAnswer), (request, reply) =>
    getReadings(service, request, reply),
  );
  app.post(
    '/api/readings',
    takes(({ timeZone, now }) => readingsRequest(timeZone, now), { answers: enteredAnswer }),
    (request, reply) => postReadings(service, request, reply),
  );
  app.post(
    '/api/readings/batches',
    takes(({ timeZone, now }) => batchRequest(timeZone, now), { answers: samplesAnswer }),
    (request, reply) => postBatch(service, request, reply),
  );
  app.post('/api/readings/:id/move', takes(moveSchema, { answers: movedAnswer }), (request, reply) =>
    postMove(service, request, reply),
  );
  app.get('/api/systems/:id/series', asks(seriesQuery, seriesAnswer), (request, reply) =>
    getSeries(service, request, reply),
  );
}

const seriesQuery: Takes = (sample) =>
  period(sample).extend({ quantity: text('the code of the quantity', 40) });

/** Open to instruments with an access key too. */
async function getReadings(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const asked = await readSystemAndPeriod(service, request);
  const quantities = await listQuantities(service.db);
  const codes =
    asked.quantityCode === '' ? quantities.map((quantity) => quantity.code) : [asked.quantityCode];
  return sendLong(reply, {}, 'readings', corrected(service, { ...asked, quantityCode: codes }));
}

/** Readings piece by piece, each with what its kit is known to read wrong by. */
async function* corrected({ pool }: Service, question: SeriesQuestion) {
  const correct = biasCorrector(pool);
  for await (const piece of readingSeries(pool, question)) yield await correct(piece);
}

async function postReadings(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const input = checked(readingsRequest(request.site.timeZone, service.now()), request.body);
  const result = await request.change((work) => enterReadings(work, input));
  return reply.status(201).send(result);
}

async function postMove(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This reading');
  await holdPackedToSite(service.db, id, request.site.id);
  const move = checked(moveSchema, request.body);
  return reply.status(201).send(await request.change((work) => moveReading(work, id, move)));
}

async function postBatch(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const input = checked(batchRequest(request.site.timeZone, service.now()), request.body);
  const result = await request.change((work) => enterSamples(work, input));
  return reply.status(201).send(result);
}

/** One quantity of one system, in its canonical unit, with what it keeps. */
async function getSeries(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const { quantity: code } = checked(z.object({ quantity: optionalText(40) }), request.query);
  const quantities = await listQuantities(service.db);
  const known = quantities.map((one) => one.code) as [string, ...string[]];
  const quantityCode = checked(
    z.object({ quantity: z.enum(known, `Name the quantity: one of ${known.join(', ')}.`) }),
    { quantity: code },
  ).quantity;
  const times = readPeriod(service, request);
  const targets = await listTargets(service.db, system.id);
  const quantity = quantities.find((one) => one.code === quantityCode);
  const {
    bandLow = null,
    bandHigh = null,
    limitHigh = null,
    makeUp = null,
    starting = false,
  } = targets.get(quantityCode) ?? {};
  const head = {
    systemId: system.id,
    quantityCode,
    unit: quantity?.canonicalUnit,
    displayUnit: quantity?.displayUnit,
    keeps: { bandLow, bandHigh, limitHigh, makeUp, starting },
  };
  return sendLong(
    reply,
    head,
    'readings',
    corrected(service, { systemId: system.id, quantityCode, ...times }),
  );
}

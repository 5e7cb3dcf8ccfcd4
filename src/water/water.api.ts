import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Work } from '../platform/change.ts';
import type { Service } from '../platform/service.ts';
import { chosen, optionalText } from '../platform/web/fields.ts';
import { checked } from '../platform/web/json.ts';
import { pastMoment } from '../platform/web/moments.ts';
import { pathId } from '../platform/web/requests.ts';
import { daysBefore } from '../science/numeric/time.ts';
import { withCorrected } from './kits/bias.ts';
import { addDose, doseSchema, listDoses } from './log/doses.ts';
import { addFeeding, feedingSchema, listFeedings } from './log/feedings.ts';
import { addWaterChange, listWaterChanges, waterChangeSchema } from './log/water-changes.ts';
import { listQuantities } from './quantities/quantities.ts';
import { enterSamples } from './readings/probe-samples.ts';
import { batchRequest, readingsRequest } from './readings/readings.schema.ts';
import { enterReadings, readingSeries } from './readings/readings.ts';
import { findWater } from './systems/systems.ts';
import { listTargets } from './targets/targets.ts';

/** The water as JSON: the same schemas and operations as the pages. */
export function waterApi(app: FastifyInstance, service: Service): void {
  app.get('/api/readings', (request) => getReadings(service, request));
  app.post('/api/readings', byMachines, (request, reply) => postReadings(service, request, reply));
  app.post('/api/readings/batches', byMachines, (request, reply) => postBatch(service, request, reply));
  app.get('/api/systems/:id/series', (request) => getSeries(service, request));
  logRoutes(app, service, 'water-changes', {
    schema: waterChangeSchema,
    add: addWaterChange,
    list: listWaterChanges,
  });
  logRoutes(app, service, 'doses', { schema: doseSchema, add: addDose, list: listDoses, machines: true });
  logRoutes(app, service, 'feedings', { schema: feedingSchema, add: addFeeding, list: listFeedings });
}

/** Open to instruments with an access key too. */
const byMachines = { config: { machines: true } };

const usualDays = 90;

/** From when to when, as the query says; the last ninety days when it does not. */
function periodOf(service: Service, request: FastifyRequest): { from: Date; to: Date } {
  const [now, { timeZone }] = [service.now(), request.site];
  const past = pastMoment(timeZone, now);
  const usual = daysBefore(now, usualDays).toISOString();
  return checked(z.object({ from: past, to: past }), { from: usual, ...(request.query as object) });
}

const query = z.object({
  systemId: chosen('Name the system.'),
  quantityCode: optionalText(40),
  voided: optionalText(5),
});

async function readQuestion(service: Service, request: FastifyRequest) {
  const { voided, ...asked } = checked(query, request.query);
  await findWater(service.db, asked.systemId);
  return { ...asked, ...periodOf(service, request), withVoided: voided === 'yes' };
}

async function getReadings(service: Service, request: FastifyRequest) {
  const asked = await readQuestion(service, request);
  const quantities = await listQuantities(service.db);
  const codes =
    asked.quantityCode === '' ? quantities.map((quantity) => quantity.code) : [asked.quantityCode];
  const readings = await readingSeries(service.pool, { ...asked, quantityCode: codes });
  return { readings: await withCorrected(service.pool, readings) };
}

async function postReadings(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const input = checked(readingsRequest(request.site.timeZone, service.now()), request.body);
  const result = await request.change((work) => enterReadings(work, input));
  return reply.status(201).send(result);
}

async function postBatch(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const input = checked(batchRequest(request.site.timeZone, service.now()), request.body);
  const result = await request.change((work) => enterSamples(work, input));
  return reply.status(201).send(result);
}

/** One quantity of one system, in its canonical unit, with what it keeps. */
async function getSeries(service: Service, request: FastifyRequest) {
  const system = await findWater(service.db, pathId(request, 'id', 'This system'));
  const { quantity: code } = checked(z.object({ quantity: optionalText(40) }), request.query);
  const quantities = await listQuantities(service.db);
  const known = quantities.map((one) => one.code) as [string, ...string[]];
  const quantityCode = checked(
    z.object({ quantity: z.enum(known, `Name the quantity: one of ${known.join(', ')}.`) }),
    { quantity: code },
  ).quantity;
  const times = periodOf(service, request);
  const [readings, targets] = await Promise.all([
    readingSeries(service.pool, { systemId: system.id, quantityCode, ...times }),
    listTargets(service.db, system.id),
  ]);
  const quantity = quantities.find((one) => one.code === quantityCode);
  const {
    bandLow = null,
    bandHigh = null,
    limitHigh = null,
    makeUp = null,
  } = targets.get(quantityCode) ?? {};
  return {
    systemId: system.id,
    quantityCode,
    unit: quantity?.canonicalUnit,
    displayUnit: quantity?.displayUnit,
    keeps: { bandLow, bandHigh, limitHigh, makeUp },
    readings: await withCorrected(service.pool, readings),
  };
}

/** One noun of the log: its list, and a new entry. */
interface LogNoun<S extends z.ZodType> {
  /** Instruments may enter it too. */
  machines?: boolean;
  schema(timeZone: string, now: Date): S;
  add(work: Work, systemId: string, input: z.output<S>): Promise<object>;
  list(
    pool: Service['pool'],
    query: { systemId: string; from: Date; to: Date; withVoided: boolean; limit: number },
  ): Promise<object[]>;
}

const mostEntries = 5000;

function logRoutes<S extends z.ZodType>(
  app: FastifyInstance,
  service: Service,
  path: string,
  noun: LogNoun<S>,
): void {
  app.get(`/api/${path}`, async (request) => ({
    entries: await noun.list(service.pool, { ...(await readQuestion(service, request)), limit: mostEntries }),
  }));
  const machines = { config: { machines: noun.machines ?? false } };
  app.post(`/api/${path}`, machines, async (request, reply) => {
    const { systemId } = checked(z.object({ systemId: chosen('Name the system.') }), request.body);
    const input = checked(noun.schema(request.site.timeZone, service.now()), request.body);
    const result = await request.change((work) => noun.add(work, systemId, input));
    return reply.status(201).send(result);
  });
}

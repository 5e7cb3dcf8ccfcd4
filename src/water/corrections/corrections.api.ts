import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { id, made } from '../../platform/door/answer-parts.ts';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { answers, asks, takes } from '../../platform/door/takes.ts';
import { isRunning } from '../../platform/plans/plans.rules.ts';
import { editSchema, planBounds } from '../../platform/plans/plans.schema.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { optionalChosen, optionalNumber, optionalText, text } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import {
  correctionAnswer,
  correctionRequestSchema,
  correctionsAnswer,
  recordedAnswer,
} from './corrections.schema.ts';
import { correctableQuantity, planCorrection, stopCorrection } from './corrections.ts';
import type { CorrectionHold } from './hold.rules.ts';
import { readCorrectionRecords, readCorrections } from './load.ts';
import type { CorrectionPlace } from './queries.ts';
import { type CorrectionRecord, type CorrectionState, currentHold, dueDay, nextOpenStep } from './state.ts';
import { doCorrectionStep, leaveOutCorrectionStep } from './steps.ts';

/** Corrections as JSON: the same schemas and operations as the pages. */
export function correctionsApi(app: FastifyInstance, service: Service): void {
  app.get('/api/systems/:id/corrections', asks(pageQuery, correctionsAnswer), (request) =>
    getCorrections(service, request),
  );
  app.get('/api/corrections/:id', answers(correctionAnswer), (request) => getCorrection(service, request));
  app.post('/api/systems/:id/corrections', takes(planSchema, { answers: made }), (request, reply) =>
    postCorrection(service, request, reply),
  );
  app.post(
    '/api/correction-steps/:id/record',
    takes(({ timeZone, now }) => recordBody(timeZone, now), { answers: recordedAnswer }),
    (request) => postRecord(service, request),
  );
  app.post(
    '/api/correction-steps/:id/omission',
    takes(editSchema('why it is left out', 500), { answers: z.object({ correctionId: id }) }),
    (request) => postOmission(request),
  );
  app.post(
    '/api/corrections/:id/stop',
    takes(editSchema('why it is stopped', 500), { answers: z.object({ systemId: id }) }),
    (request) => postStop(request),
  );
}

/** A correction as JSON; canonical units. */
function correctionJson(correction: CorrectionRecord, hold: CorrectionHold | null) {
  const { quantity, timeZone, endedAt, ...record } = correction;
  const step = isRunning(correction) ? nextOpenStep(correction) : null;
  return {
    ...record,
    quantityCode: quantity.code,
    unit: quantity.canonicalUnit,
    running: isRunning(correction),
    next: step === null ? null : { id: step.id, dueOn: dueDay(correction, step) },
    held: hold,
  };
}

/** The same with why its next step is held back. */
function stateJson(state: CorrectionState, now: Date) {
  const { readings, suspectKits, disagreement, others, outside, water, course, ...record } = state;
  return correctionJson(record, currentHold(state, now));
}

const pageQuery = z.object(pageFields(planBounds));

const placeSchema = z.tuple([z.iso.datetime(), z.uuid()]);

async function getCorrections(service: Service, request: FastifyRequest) {
  const now = service.now();
  const { after, limit } = pageAsked<CorrectionPlace>(
    checked(pageQuery, request.query),
    placeSchema,
    planBounds,
  );
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const systemIds = [system.id];
  const running = await readCorrections(service.pool, { systemIds, running: true }, now);
  const states = new Map(running.map((state) => [state.id, state]));
  const found = await readCorrectionRecords(service.pool, { systemIds, page: { after, limit: limit + 1 } });
  const { some, next } = pageOf(found, limit, ({ createdAt, id }) => [createdAt.toISOString(), id]);
  return {
    corrections: some.map((record) => {
      const state = states.get(record.id);
      return state === undefined ? correctionJson(record, null) : stateJson(state, now);
    }),
    next,
  };
}

async function getCorrection(service: Service, request: FastifyRequest) {
  const now = service.now();
  const id = pathId(request, 'id', 'This correction');
  const [state] = await readCorrections(service.pool, { id }, now);
  if (state === undefined) throw notFound('This correction');
  return stateJson(state, now);
}

const planSchema = z.object({
  quantityCode: text('the quantity', 40),
  revises: optionalChosen(),
  revisesVersion: optionalNumber({ what: 'the version', low: 1, high: 1e9 }),
});

async function postCorrection(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const systemId = pathId(request, 'id', 'This system');
  const { quantityCode, revises, revisesVersion } = checked(planSchema, request.body);
  const quantity = await correctableQuantity(service.db, quantityCode);
  const form = checked(
    correctionRequestSchema(quantity, localDay(service.now(), request.site.timeZone)),
    request.body,
  );
  const result = await request.change((work) =>
    planCorrection(work, {
      ...form,
      systemId,
      quantityCode,
      seen: null,
      revises: revises === null ? null : { id: revises, version: revisesVersion ?? 0 },
    }),
  );
  return reply.status(201).send(result);
}

const stepId = (request: FastifyRequest) => pathId(request, 'id', 'This step');

const recordBody = (timeZone: string, now: Date) =>
  z.object({ at: pastMoment(timeZone, now), note: optionalText(500) });

async function postRecord(service: Service, request: FastifyRequest) {
  const edit = checked(recordBody(request.site.timeZone, service.now()), request.body);
  return request.change((work) => doCorrectionStep(work, { stepId: stepId(request), ...edit }));
}

async function postOmission(request: FastifyRequest) {
  const edit = checked(editSchema('why it is left out', 500), request.body);
  return request.change((work) => leaveOutCorrectionStep(work, { stepId: stepId(request), ...edit }));
}

async function postStop(request: FastifyRequest) {
  const id = pathId(request, 'id', 'This correction');
  const edit = checked(editSchema('why it is stopped', 500), request.body);
  return request.change((work) => stopCorrection(work, { id, ...edit }));
}

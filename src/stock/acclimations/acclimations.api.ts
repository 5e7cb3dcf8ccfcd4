import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { made } from '../../platform/door/answer-parts.ts';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { answers, asks, takes } from '../../platform/door/takes.ts';
import { isRunning } from '../../platform/plans/plans.rules.ts';
import { editSchema, planBounds } from '../../platform/plans/plans.schema.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { optionalChosen, optionalText, version } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { pathId } from '../../platform/web/requests.ts';
import { acclimationRequestSchema } from './acclimations.schema.ts';
import {
  draftAcclimation,
  endAcclimation,
  pauseAcclimation,
  planAcclimation,
  resumeAcclimation,
  stepsSeen,
} from './acclimations.ts';
import {
  acclimationAnswer,
  acclimationsAnswer,
  draftAnswer,
  nothing,
  ofAcclimation,
  recordedAnswer,
} from './answers.schema.ts';
import { choosePlace } from './change-slot.ts';
import { readStepContext, stepHold } from './next-step.ts';
import { type AcclimationPlace, nextSteps, placeOfAcclimation, readAcclimations } from './state.ts';
import { stepBack } from './step-back.ts';
import { doAcclimationStep, leaveOutAcclimationStep } from './steps.ts';

const reversalBody = editSchema('why', 300).extend({ lotId: optionalChosen() });

const pageQuery = z.object(pageFields(planBounds));

const placeSchema = z.tuple([z.boolean(), z.iso.datetime(), z.uuid()]);

const recordBody = (timeZone: string, now: Date) =>
  z.object({ at: pastMoment(timeZone, now), note: optionalText(300), despite: optionalText(500) });

/** Acclimations as JSON: the same schemas and operations as the pages. Light in mol/(m2 d) and umol/(m2 s). */
export function acclimationApi(app: FastifyInstance, service: Service): void {
  app.get('/api/acclimations', asks(pageQuery, acclimationsAnswer), (request) => getAll(service, request));
  app.get('/api/acclimations/:id', answers(acclimationAnswer), (request) => getOne(service, request));
  app.post(
    '/api/acclimation-drafts',
    takes(({ timeZone, now, site }) => acclimationRequestSchema(site.id, localDay(now, timeZone)), {
      answers: draftAnswer,
    }),
    (request) => postDraft(service, request),
  );
  app.post('/api/acclimations', takes(planBody, { answers: made }), async (request, reply) =>
    reply.status(201).send(await postPlan(service, request)),
  );
  app.post('/api/acclimations/:id/pause', takes(editSchema('why', 300), { answers: nothing }), (request) =>
    applyEdit(request, (work, id, edit) => pauseAcclimation(work, { id, ...edit })),
  );
  app.post('/api/acclimations/:id/end', takes(editSchema('why', 300), { answers: nothing }), (request) =>
    applyEdit(request, (work, id, edit) => endAcclimation(work, { id, ...edit })),
  );
  app.post('/api/acclimations/:id/resumption', takes(resumptionBody, { answers: nothing }), (request) =>
    postResumption(request),
  );
  app.post('/api/acclimations/:id/reversal', takes(reversalBody, { answers: nothing }), (request) =>
    postReversal(request),
  );
  app.post(
    '/api/acclimation-steps/:id/record',
    takes(({ timeZone, now }) => recordBody(timeZone, now), { answers: recordedAnswer }),
    (request) => postRecord(service, request),
  );
  app.post(
    '/api/acclimation-steps/:id/omission',
    takes(editSchema('why', 300), { answers: ofAcclimation }),
    (request) =>
      applyEdit(request, (work, stepId, edit) => leaveOutAcclimationStep(work, { stepId, ...edit })),
  );
  app.post('/api/acclimation-steps/:id/place', takes(placeBody, { answers: ofAcclimation }), (request) =>
    postPlace(request),
  );
}

async function getAll(service: Service, request: FastifyRequest) {
  const { after, limit } = pageAsked<AcclimationPlace>(
    checked(pageQuery, request.query),
    placeSchema,
    planBounds,
  );
  const found = await readAcclimations(service.pool, {
    siteId: request.site.id,
    page: { after, limit: limit + 1 },
  });
  const { some, next } = pageOf(found, limit, placeOfAcclimation);
  return { acclimations: some, next };
}

async function getOne(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This acclimation');
  const [found] = await readAcclimations(service.pool, { id, siteId: request.site.id });
  if (found === undefined) throw notFound('This acclimation');
  const context = await readStepContext(service.pool, [found], service.now());
  const next = isRunning(found) ? nextSteps(found) : [];
  return {
    ...found,
    next: next.map((step) => ({ id: step.id, dueOn: step.dueOn, held: stepHold(found, step, context) })),
  };
}

const wishOf = (service: Service, request: FastifyRequest) =>
  checked(
    acclimationRequestSchema(request.site.id, localDay(service.now(), request.site.timeZone)),
    request.body,
  );

async function postDraft(service: Service, request: FastifyRequest) {
  const draft = await draftAcclimation(service.pool, wishOf(service, request), service.now());
  if (!draft.ok) throw new Refusal(draft.refused, { field: draft.field });
  const { lots, ok, ...rest } = draft;
  return { ...rest, lots: lots.map(({ id, code }) => ({ id, code })), seen: stepsSeen(draft) };
}

const planBody = z.object({ seen: optionalText(20_000) });

async function postPlan(service: Service, request: FastifyRequest) {
  const { seen } = checked(planBody, request.body);
  const wish = wishOf(service, request);
  return request.change((work) => planAcclimation(work, { ...wish, seen: seen === '' ? null : seen }));
}

type Act = (
  work: Parameters<typeof doAcclimationStep>[0],
  id: string,
  edit: { version: number; reason: string },
) => Promise<unknown>;

/** A change of a plan or of a step that needs a version and a reason. */
async function applyEdit(request: FastifyRequest, act: Act) {
  const edit = checked(editSchema('why', 300), request.body);
  const id = pathId(request, 'id', 'This acclimation');
  return (await request.change((work) => act(work, id, edit))) ?? {};
}

const resumptionBody = z.object({ version: version(), note: optionalText(300) });

async function postResumption(request: FastifyRequest) {
  const edit = checked(resumptionBody, request.body);
  const id = pathId(request, 'id', 'This acclimation');
  await request.change((work) => resumeAcclimation(work, { id, ...edit }));
  return {};
}

async function postReversal(request: FastifyRequest) {
  const edit = checked(reversalBody, request.body);
  const id = pathId(request, 'id', 'This acclimation');
  await request.change((work) => stepBack(work, { id, ...edit }));
  return {};
}

async function postRecord(service: Service, request: FastifyRequest) {
  const edit = checked(recordBody(request.site.timeZone, service.now()), request.body);
  return request.change((work) =>
    doAcclimationStep(work, { stepId: pathId(request, 'id', 'This step'), ...edit }),
  );
}

const placeBody = z.object({ version: version(), slotIds: z.array(z.uuid()).min(1) });

async function postPlace(request: FastifyRequest) {
  const edit = checked(placeBody, request.body);
  return request.change((work) => choosePlace(work, { stepId: pathId(request, 'id', 'This step'), ...edit }));
}

import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { id, made } from '../../platform/door/answer-parts.ts';
import { pageAsked, pageFields, pageOf } from '../../platform/door/pages.ts';
import { answers, asks, takes } from '../../platform/door/takes.ts';
import { isOpen, isRunning } from '../../platform/plans/plans.rules.ts';
import { planBounds } from '../../platform/plans/plans.schema.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { draftAnswer, movePlanAnswer, movePlansAnswer, recordedAnswer } from './answers.schema.ts';
import { draftPlacement } from './draft.ts';
import { placementView } from './draft-view.ts';
import {
  moveDoneSchema,
  moveOmissionSchema,
  movePlanSchema,
  placementRequestSchema,
  planEndSchema,
} from './move-plans.schema.ts';
import { doPlannedMove, endMovePlan, keepMovePlan, leaveOutMove } from './move-plans.ts';
import { type MovePlanPlace, type MovePlanState, placeOfMovePlan, readMovePlans, waitsFor } from './state.ts';

/** Plans of moves as JSON: the same schemas and operations as the pages. */
export function movePlanApi(app: FastifyInstance, service: Service): void {
  app.get('/api/move-plans', asks(pageQuery, movePlansAnswer), (request) => getPlans(service, request));
  app.get('/api/move-plans/:id', answers(movePlanAnswer), (request) => getPlan(service, request));
  app.post('/api/move-plans/drafts', takes(placementRequestSchema, { answers: draftAnswer }), (request) =>
    postDraft(service, request),
  );
  app.post('/api/move-plans', takes(movePlanSchema, { answers: made }), async (request, reply) => {
    const plan = checked(movePlanSchema, request.body);
    const kept = await request.change((work) => keepMovePlan(work, request.site.id, plan));
    return reply.status(201).send(kept);
  });
  app.post(
    '/api/planned-moves/:id/record',
    takes(({ timeZone, now }) => moveDoneSchema(timeZone, now), { answers: recordedAnswer }),
    (request) => postRecord(service, request),
  );
  app.post(
    '/api/planned-moves/:id/omission',
    takes(moveOmissionSchema, { answers: z.object({ planId: id }) }),
    (request) => postOmission(request),
  );
  app.post(
    '/api/move-plans/:id/end',
    takes(planEndSchema, { answers: z.object({ ended: z.literal(true) }) }),
    (request) => postEnd(request),
  );
}

const planJson = (plan: MovePlanState) => ({
  ...plan,
  moves: plan.moves.map((move) => ({
    ...move,
    waitsFor: isRunning(plan) && isOpen(move) ? waitsFor(plan, move) : null,
  })),
});

const pageQuery = z.object(pageFields(planBounds));

const placeSchema = z.tuple([z.iso.datetime(), z.uuid()]);

async function getPlans(service: Service, request: FastifyRequest) {
  const asked = checked(pageQuery, request.query);
  const { after, limit } = pageAsked<MovePlanPlace>(asked, placeSchema, planBounds);
  const found = await readMovePlans(service.pool, {
    siteId: request.site.id,
    page: { after, limit: limit + 1 },
  });
  const { some, next } = pageOf(found, limit, placeOfMovePlan);
  return { plans: some.map(planJson), next };
}

async function getPlan(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This plan');
  const [plan] = await readMovePlans(service.pool, { id, siteId: request.site.id });
  if (plan === undefined) throw notFound('This plan');
  return planJson(plan);
}

/** Works a plan out without keeping it. */
async function postDraft(service: Service, request: FastifyRequest) {
  const wish = checked(placementRequestSchema, request.body);
  const draft = await draftPlacement(service.pool, request.site.id, wish, service.now());
  const { racks, lines, ...view } = placementView(draft);
  return { ...view, lines };
}

async function postRecord(service: Service, request: FastifyRequest) {
  const moveId = pathId(request, 'id', 'This move');
  const record = checked(moveDoneSchema(request.site.timeZone, service.now()), request.body);
  return request.change((work) => doPlannedMove(work, { moveId, ...record }));
}

async function postOmission(request: FastifyRequest) {
  const moveId = pathId(request, 'id', 'This move');
  const { omission } = checked(moveOmissionSchema, request.body);
  return request.change((work) => leaveOutMove(work, { moveId, reason: omission }));
}

async function postEnd(request: FastifyRequest) {
  const id = pathId(request, 'id', 'This plan');
  const { version, endReason } = checked(planEndSchema, request.body);
  await request.change((work) => endMovePlan(work, { id, version, reason: endReason }));
  return { ended: true };
}

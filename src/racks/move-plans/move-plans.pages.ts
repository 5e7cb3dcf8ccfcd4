import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import { isOpen, isRunning } from '../../platform/plans/plans.rules.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { pageOfList } from '../../platform/views/pager.ts';
import { isManager } from '../../platform/web/access.ts';
import { pageQuery } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { agoWords, whenWords } from '../../platform/words/times.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { moveDoneSchema, moveOmissionSchema, planEndSchema } from './move-plans.schema.ts';
import { doPlannedMove, endMovePlan, leaveOutMove } from './move-plans.ts';
import {
  LIFT_CAUTION,
  MOVE_CAUTIONS,
  type MovePlanState,
  type MoveState,
  moveTitle,
  readMovePlans,
  waitsFor,
} from './state.ts';
import { openMoveTroubles } from './troubles.ts';

/** Plans of moves: which run and ran, and the list that is walked. */
export function movePlanPages(app: FastifyInstance, service: Service): void {
  app.get('/moves', (request, reply) => showPlans(service, request, reply));
  app.get('/moves/:id', (request, reply) => showPlan(service, request, reply));
  app.post(
    '/moves/:id/record',
    takes(({ timeZone, now }) => moveDoneSchema(timeZone, now).extend(moveId.shape)),
    (request, reply) => postRecord(service, request, reply),
  );
  app.post('/moves/:id/omission', takes(moveOmissionSchema.extend(moveId.shape)), (request, reply) =>
    postOmission(service, request, reply),
  );
  app.post('/moves/:id/end', takes(planEndSchema), (request, reply) => postEnd(service, request, reply));
}

/** Whether the form of this move came back for its reason. */
const refusedFor = ({ typed, errors }: FormState, id: string): boolean =>
  typed.move === id && errors.some(({ field }) => field === 'despite');

const planId = (request: FastifyRequest) => pathId(request, 'id', 'This plan');

async function showPlans(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const plans = await readMovePlans(service.pool, { siteId: request.site.id });
  const past = pageOfList(
    plans.filter((plan) => !isRunning(plan)),
    pageQuery.parse(request.query),
    (page) => `/moves?page=${page}#past`,
  );
  const data = {
    running: plans.filter(isRunning).map(planRow),
    past: past.some.map(planRow),
    pager: past.pager,
    mayPlan: isManager(request.person.role),
  };
  return showPage(service, request, reply, 'stock/move-plans', data, {
    title: 'Plans of moves',
    area: 'racks',
  });
}

function planRow({ id, name, createdAt, by, endReason, moves }: MovePlanState) {
  const done = moves.filter(({ doneAt }) => doneAt !== null).length;
  const left = moves.filter(({ leftOutAt }) => leftOutAt !== null).length;
  return { href: `/moves/${id}`, name, createdAt, by, endReason, total: moves.length, done, left };
}

async function showPlan(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const now = service.now();
  const { timeZone } = request.site;
  const [plan] = await readMovePlans(service.pool, { id: planId(request), siteId: request.site.id });
  if (plan === undefined) throw notFound('This plan');
  const troubles = await openMoveTroubles(service.pool, [plan]);
  const form = {
    ...(refused ?? freshForm()),
    typed: { move: '', omission: '', endReason: '', ...refused?.typed },
  };
  const data = {
    plan: planRow(plan),
    id: plan.id,
    version: plan.version,
    running: isRunning(plan),
    made: `Worked out ${agoWords(plan.createdAt, timeZone, now)}${plan.by === null ? '' : ` by ${plan.by}`}.`,
    moves: plan.moves.map((move) => ({
      ...moveLine(plan, move, (at) => whenWords(at, timeZone, now)),
      asksWhy: troubles.has(move.id),
      refused: refusedFor(form, move.id),
    })),
    trouble: [...new Set(troubles.values())].join(' '),
    mayEnd: isRunning(plan) && isManager(request.person.role),
    asked: String(form.typed.move ?? ''),
    keys: { omission: freshForm().key, end: freshForm().key },
    cautions: MOVE_CAUTIONS,
  };
  return showPage(service, request, reply, 'stock/move-plan', data, {
    title: plan.name,
    area: 'racks',
    form,
  });
}

function moveLine(plan: MovePlanState, move: MoveState, when: (at: Date) => string) {
  const { id, position, code, kind, place, stands, why, doneAt, by, leftOutAt, note } = move;
  const who = by === null ? '' : ` by ${by}`;
  const state =
    doneAt !== null ? `done ${when(doneAt)}${who}` : leftOutAt !== null ? `left out: ${note}` : '';
  const open = isRunning(plan) && isOpen(move);
  return {
    id,
    position,
    code,
    href: lotHref(code),
    kind,
    stands,
    place,
    title: moveTitle(move),
    why,
    lift: place === '' ? LIFT_CAUTION : '',
    state,
    note: doneAt === null ? '' : note,
    open,
    waits: open ? waitsFor(plan, move) : null,
    key: freshForm().key,
  };
}

const moveId = z.object({ move: z.uuid('Open the plan again.') });

async function postRecord(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = planId(request);
  return submit(request, reply, {
    schema: moveDoneSchema(request.site.timeZone, service.now()).extend(moveId.shape),
    act: (work, { move, ...done }) => doPlannedMove(work, { moveId: move, ...done }),
    done: ({ what }) => ({ to: `/moves/${id}`, notice: `Done: ${what}.` }),
    again: (form) => showPlan(service, request, reply, form),
  });
}

async function postOmission(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = planId(request);
  return submit(request, reply, {
    schema: moveOmissionSchema.extend(moveId.shape),
    act: (work, { move, omission }) => leaveOutMove(work, { moveId: move, reason: omission }),
    done: () => ({ to: `/moves/${id}`, notice: 'The move is left out.' }),
    again: (form) => showPlan(service, request, reply, form),
  });
}

async function postEnd(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = planId(request);
  return submit(request, reply, {
    schema: planEndSchema,
    act: (work, { version, endReason }) => endMovePlan(work, { id, version, reason: endReason }),
    done: () => ({ to: `/moves/${id}`, notice: 'The plan has ended. What was moved stays where it is.' }),
    again: (form) => showPlan(service, request, reply, form),
  });
}

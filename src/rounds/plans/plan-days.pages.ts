import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { listPeople } from '../../people/accounts.ts';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import { notFound } from '../../platform/refusal.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { calendarDay } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { peopleToChoose, planFormOf, planId, showPlan } from './plans.pages.ts';
import { dayForm } from './plans.schema.ts';
import { changePlanDay, daysStanding, findPlan, resetPlanDay } from './plans.ts';

/** One day on which a round is walked another way: at another time, by somebody else, or not at all. */
export function planDayPages(app: FastifyInstance, service: Service): void {
  app.get('/rounds/plans/:id/days', (request, reply) => showDay(service, request, reply));
  app.post('/rounds/plans/:id/days', takes(dayForm), (request, reply) => postDay(service, request, reply));
  app.post('/rounds/plans/:id/days/:day', (request, reply) => postReset(service, request, reply));
}

const isoDay = calendarDay();
const walkedChoices = [
  { value: 'yes', text: 'Walked' },
  { value: 'no', text: 'Not walked' },
];

async function showDay(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const plan = await findPlan(service.db, planId(request));
  const asked = isoDay.safeParse((request.query as { day?: unknown }).day).data;
  const form = refused ?? dayFormOf(plan, asked ?? localDay(service.now(), request.site.timeZone));
  const people = await peopleToChoose(service, request, form);
  const data = {
    ...{ plan, people, walked: walkedChoices, seen: await seenNow(service.db, daysStanding(plan.id)) },
    theirs: reply.statusCode === 409 ? await dayWords(service, plan, String(form.typed.day)) : '',
  };
  const title = `${plan.name}: one day`;
  return showPage(service, request, reply, 'rounds/plan-day', data, { title, area: 'rounds', form });
}

type Planned = Awaited<ReturnType<typeof findPlan>>;

/** What stands there of one day, in words. */
async function dayWords(service: Service, plan: Planned, day: string): Promise<string> {
  const change = plan.changes.find((one) => one.day === day);
  if (change === undefined) return 'as planned';
  if (change.cancelled) return 'not walked';
  const who = (await listPeople(service.db)).find(({ id }) => id === change.assigneeId)?.name;
  const at = change.startsAt === null ? 'walked' : `walked at ${change.startsAt}`;
  return who === undefined ? at : `${at} by ${who}`;
}

function dayFormOf(plan: Planned, day: string): FormState {
  const change = plan.changes.find((one) => one.day === day);
  return freshForm({
    day,
    walked: change?.cancelled ? 'no' : 'yes',
    startsAt: change?.startsAt ?? '',
    assigneeId: change?.assigneeId ?? '',
    note: change?.note ?? '',
  });
}

async function postDay(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = planId(request);
  return submit(request, reply, {
    schema: dayForm,
    over: daysStanding(id),
    act: (work, value) => changePlanDay(work, id, value),
    done: (_, { cancelled }) => ({
      to: `/rounds/plans/${id}`,
      notice: cancelled ? 'Not walked on that day.' : 'Changed for that day.',
    }),
    again: (form) => showDay(service, request, reply, form),
  });
}

async function postReset(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = planId(request);
  const day = isoDay.safeParse((request.params as { day: string }).day).data;
  if (day === undefined) throw notFound('This day');
  return submit(request, reply, {
    schema: z.object({}),
    over: daysStanding(id),
    act: (work) => resetPlanDay(work, id, day),
    done: () => ({ to: `/rounds/plans/${id}`, notice: 'Walked as usual again on that day.' }),
    again: async ({ errors }) =>
      showPlan(service, request, reply, { ...planFormOf(await findPlan(service.db, id)), errors }),
  });
}

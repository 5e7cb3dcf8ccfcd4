import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { listPeople } from '../../people/accounts.ts';
import { listWorkers } from '../../people/memberships.ts';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { plural } from '../../platform/words/numbers.ts';
import { WEEKDAYS, weekdayWords } from '../../platform/words/weekdays.ts';
import { placeField, planForm } from './plans.schema.ts';
import {
  addPlan,
  daysStanding,
  editPlan,
  findPlan,
  listPlans,
  listWalkableTanks,
  type Plan,
} from './plans.ts';

/** Which walks there are: when, past which tanks, with which steps, by whom. */
export function planPages(app: FastifyInstance, service: Service): void {
  app.get('/rounds/plans', (request, reply) => showPlans(service, request, reply));
  app.get('/rounds/plans/new', (request, reply) => showNewPlan(service, request, reply));
  app.post(
    '/rounds/plans',
    takes(() => planForm(['ID-OF-TANK'])),
    (request, reply) => postPlan(service, request, reply),
  );
  app.get('/rounds/plans/:id', (request, reply) => showPlan(service, request, reply));
  app.post(
    '/rounds/plans/:id',
    takes(() => planForm(['ID-OF-TANK'])),
    (request, reply) => postPlanEdit(service, request, reply),
  );
}

const stepChoices = [
  { value: 'look', text: 'Look at every rack' },
  { value: 'test', text: 'Test each system' },
  { value: 'feed', text: 'Feed each system' },
  { value: 'dose', text: 'Dose each system' },
  { value: 'clean', text: 'Clean each system' },
  { value: 'check', text: 'Check its equipment' },
];
export const planId = (request: FastifyRequest) => pathId(request, 'id', 'This round plan');

async function showPlans(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [plans, people, tanks] = await Promise.all([
    listPlans(service.db, request.site.id),
    listPeople(service.db),
    listWalkableTanks(service.db, request.site.id),
  ]);
  const nameOf = new Map(people.map((person) => [person.id, person.name]));
  const tankName = new Map(tanks.map((tank) => [tank.id, tank.name]));
  const today = localDay(service.now(), request.site.timeZone);
  const rows = plans.map((plan) => ({
    ...plan,
    days: weekdayWords(plan.weekdays),
    who: nameOf.get(plan.assigneeId ?? '') ?? 'whoever is there',
    does: doesWords(plan),
    changes: plan.changes.filter((change) => change.day >= today).length,
    past: plan.tankIds.map((id) => tankName.get(id) ?? 'a tank out of service').join(', '),
  }));
  return showPage(
    service,
    request,
    reply,
    'rounds/plans',
    { plans: rows },
    { title: 'Round plans', area: 'rounds' },
  );
}

/** "look, test, 3 chores". */
function doesWords({ steps, chores }: Plan): string {
  const own = chores.length === 0 ? [] : [plural(chores.length, 'chore', 'chores')];
  return [...steps, ...own].join(', ');
}

/** Who can be chosen to walk a round: whoever works at the site; whoever is chosen already stays to be seen. */
export async function peopleToChoose(service: Service, request: FastifyRequest, form: FormState) {
  const [workers, people] = await Promise.all([
    listWorkers(service.db, request.site.id),
    listPeople(service.db),
  ]);
  const at = new Set(workers.map(({ id }) => id));
  return people
    .filter(({ id }) => at.has(id) || id === form.typed.assigneeId)
    .map(({ id, name }) => ({ value: id, text: name }));
}

/** What the form's check boxes and lists show beside what was typed. */
async function planData(service: Service, request: FastifyRequest, form: FormState) {
  const [people, tanks] = await Promise.all([
    peopleToChoose(service, request, form),
    listWalkableTanks(service.db, request.site.id),
  ]);
  const ticked = (name: string) => [form.typed[name] ?? []].flat();
  return {
    version: form.typed.version ?? '0',
    tanks: tanks.map((tank) => ({
      ...tank,
      field: placeField(tank.id),
      typed: String(form.typed[placeField(tank.id)] ?? ''),
      error: form.errors.find((error) => error.field === placeField(tank.id))?.message ?? null,
    })),
    days: WEEKDAYS.map((text, i) => ({
      value: String(i + 1),
      text,
      ticked: ticked('weekdays').includes(String(i + 1)),
    })),
    steps: stepChoices.map((step) => ({ ...step, ticked: ticked('steps').includes(step.value) })),
    people,
  };
}

async function showNewPlan(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const form = refused ?? (await emptyForm(service, request));
  const data = {
    ...(await planData(service, request, form)),
    plan: null,
    action: '/rounds/plans',
    changes: [],
    today: '',
  };
  return showPage(service, request, reply, 'rounds/plan', data, {
    title: 'Plan a round',
    area: 'rounds',
    form,
  });
}

/** The form of a plan that is to be made: of another plan's copy (`from` in the address), or empty. */
async function emptyForm(service: Service, request: FastifyRequest): Promise<FormState> {
  const copied = z.object({ from: z.uuid() }).safeParse(request.query).data?.from;
  if (copied !== undefined) {
    const form = planFormOf(await findPlan(service.db, copied));
    return { ...form, typed: { ...form.typed, name: `${form.typed.name}, copy`.slice(0, 60), version: '0' } };
  }
  const tanks = await listWalkableTanks(service.db, request.site.id);
  const places = Object.fromEntries(tanks.map((tank, i) => [placeField(tank.id), i + 1]));
  const empty = { name: '', startsAt: '', chores: '', assigneeId: '', paused: '', version: 0 };
  const form = freshForm({ ...empty, ...places });
  return {
    ...form,
    typed: { ...form.typed, weekdays: ['1', '2', '3', '4', '5', '6', '7'], steps: ['look'] },
  };
}

async function postPlan(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tanks = await listWalkableTanks(service.db, request.site.id);
  return submit(request, reply, {
    schema: planForm(tanks.map((tank) => tank.id)),
    act: (work, value) => addPlan(work, request.site.id, value),
    done: (_, { name }) => ({ to: '/rounds/plans', notice: `${name} is planned.` }),
    again: (form) => showNewPlan(service, request, reply, form),
  });
}

export function planFormOf(plan: Plan): FormState {
  const { name, startsAt, assigneeId, pausedAt, version, weekdays, steps, tankIds } = plan;
  const chores = plan.chores.join('\n');
  const paused = pausedAt ? 'yes' : '';
  const places = Object.fromEntries(tankIds.map((id, i) => [placeField(id), i + 1]));
  const form = freshForm({ name, startsAt, chores, assigneeId, paused, version, ...places });
  return { ...form, typed: { ...form.typed, weekdays: weekdays.map(String), steps } };
}

export async function showPlan(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const plan = await findPlan(service.db, planId(request));
  const said = `${plan.name}, ${plan.startsAt}${plan.pausedAt === null ? '' : ', paused'}`;
  const { form, theirs } = afterStale(refused ?? planFormOf(plan), reply, { version: plan.version }, said);
  const nameOf = new Map((await listPeople(service.db)).map((person) => [person.id, person.name]));
  const today = localDay(service.now(), request.site.timeZone);
  const changes = plan.changes
    .filter((change) => change.day >= today)
    .map((change) => ({ ...change, who: nameOf.get(change.assigneeId ?? '') ?? '', key: freshForm().key }));
  const data = {
    ...(await planData(service, request, form)),
    plan,
    action: `/rounds/plans/${plan.id}`,
    changes,
    today,
    theirs,
    seen: await seenNow(service.db, daysStanding(plan.id)),
  };
  return showPage(service, request, reply, 'rounds/plan', data, { title: plan.name, area: 'rounds', form });
}

async function postPlanEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = planId(request);
  const tanks = await listWalkableTanks(service.db, request.site.id);
  return submit(request, reply, {
    schema: planForm(tanks.map((tank) => tank.id)),
    act: (work, value) => editPlan(work, id, value),
    done: (_, { name, paused }) => ({
      to: '/rounds/plans',
      notice: paused ? `${name} is paused.` : `${name} is changed.`,
    }),
    again: (form) => showPlan(service, request, reply, form),
  });
}

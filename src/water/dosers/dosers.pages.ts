import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { takes } from '../../platform/door/takes.ts';
import { seenNow } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { litresNoted } from '../../platform/units/measures.ts';
import { isManager } from '../../platform/web/access.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { numberWords, plural } from '../../platform/words/numbers.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { readDoser } from './doser-record.ts';
import { calibrationSchema, doserPlanSchema, levelSchema } from './dosers.schema.ts';
import { calibrate, doserPlanStanding, noteLeft, type Planned, planDoser, stopDoser } from './dosers.ts';
import { doserView } from './view.ts';

/** One doser: what it gave, what is left in it, its calibrations and its plan. */
export function doserPages(app: FastifyInstance, service: Service): void {
  app.get('/water/dosers/:id', (request, reply) => showDoser(service, request, reply));
  app.post(
    '/water/dosers/:id/calibrations',
    takes(({ timeZone, now }) => calibrationSchema(timeZone, now)),
    (request, reply) => postCalibration(service, request, reply),
  );
  app.post(
    '/water/dosers/:id/levels',
    takes(({ timeZone, now }) => levelSchema(timeZone, now)),
    (request, reply) => postLevel(service, request, reply),
  );
  app.post(
    '/water/dosers/:id/plan',
    takes(({ timeZone, now }) => doserPlanSchema(timeZone, now)),
    (request, reply) => postPlan(service, request, reply),
  );
  app.post('/water/dosers/:id/stop', (request, reply) => postStop(service, request, reply));
}

const doserId = (request: FastifyRequest) => pathId(request, 'id', 'This doser');
const sames = [
  { value: 'same', text: 'Yes: the plan begins after the last of them' },
  { value: 'both', text: 'No: both went in, and both count' },
];

const hrefOf = (id: string) => `/water/dosers/${id}`;

async function showDoser(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const now = service.now();
  const doser = await readDoser(service.pool, doserId(request));
  const quantities = await listQuantities(service.db);
  const plan = doser.plans.find(({ untilMs }) => untilMs === null);
  const at = inputMoment(now, request.site.timeZone);
  const blank = {
    seenL: '',
    filled: '',
    filledL: '',
    ml: '',
    runs: '1',
    per: 'minute',
    againDays: '30',
    note: '',
    reason: '',
    alreadyThere: '',
    at,
  };
  const planned = {
    substance: plan?.substance ?? doser.holds,
    perDay: plan?.perDay ?? '',
    unit: plan?.unit ?? 'mL',
  };
  const form = refused ?? freshForm({ ...blank, ...planned });
  const data = {
    doser,
    seen: await seenNow(service.db, doserPlanStanding(doser.id)),
    isManager: isManager(request.person.role),
    path: hrefOf(doser.id),
    ...doserView(doser, quantities, now),
    asksWhy: form.errors.some(({ field }) => field === 'reason'),
    asksSame: form.errors.some(({ field }) => field === 'alreadyThere') || form.typed.alreadyThere !== '',
    sames,
  };
  return showPage(service, request, reply, 'water/doser', data, { title: doser.name, area: 'water', form });
}

async function postCalibration(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = doserId(request);
  return submit(request, reply, {
    schema: calibrationSchema(request.site.timeZone, service.now()),
    act: (work, input) => calibrate(work, id, input),
    done: ({ name }, { ml, runs, per }) => ({
      to: hrefOf(id),
      notice: `${name} gives ${numberWords(ml / runs, 2)} mL a ${per}. Set the device to that.`,
    }),
    again: (form) => showDoser(service, request, reply, form),
  });
}

async function postLevel(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = doserId(request);
  return submit(request, reply, {
    schema: levelSchema(request.site.timeZone, service.now()),
    act: (work, input) => noteLeft(work, id, input),
    done: ({ check }, { seenL }) => ({
      to: hrefOf(id),
      notice:
        check === null
          ? `Noted: ${litresNoted(seenL)} left.`
          : `Noted: ${litresNoted(seenL)} left, where ${litresNoted(check.reckonedL)} were expected.${check.differs ? ' The doses since the last level are corrected.' : ' That agrees.'}`,
    }),
    again: (form) => showDoser(service, request, reply, form),
  });
}

async function postPlan(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = doserId(request);
  return submit(request, reply, {
    schema: doserPlanSchema(request.site.timeZone, service.now()),
    over: doserPlanStanding(id),
    act: (work, input) => planDoser(work, id, input),
    done: (planned, { alreadyThere }) => ({ to: hrefOf(id), notice: plannedWords(planned, alreadyThere) }),
    again: (form) => showDoser(service, request, reply, form),
  });
}

/** What a new plan does, and what became of the doses that were there. */
function plannedWords({ name, begins, held, timeZone }: Planned, alreadyThere: string): string {
  if (alreadyThere === '' || held === 0) return `${name} logs its dose automatically from now on.`;
  const there = plural(held, 'dose that was there', 'doses that were there');
  return alreadyThere === 'same'
    ? `${name} logs its dose from ${localDay(begins, timeZone)} on. The ${there} ${held === 1 ? 'stands' : 'stand'} for the days before.`
    : `${name} logs its dose automatically. The ${there} ${held === 1 ? 'counts' : 'count'} beside it.`;
}

async function postStop(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = doserId(request);
  return submit(request, reply, {
    schema: z.object({}),
    over: doserPlanStanding(id),
    act: (work) => stopDoser(work, id),
    done: ({ name }) => ({ to: hrefOf(id), notice: `${name} no longer logs doses.` }),
    again: (form) => showDoser(service, request, reply, form),
  });
}

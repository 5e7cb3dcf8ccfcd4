import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { findAlert } from '../../alerts/alerts.ts';
import { actOnAlert } from '../../alerts/changes.ts';
import { noteLooked } from '../../farm/looks/looks.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { submit } from '../../platform/web/forms.ts';
import { pathId } from '../../platform/web/requests.ts';
import { parseInstrument } from '../../water/readings/readings.schema.ts';
import { enterReadings } from '../../water/readings/readings.ts';
import { doserSchema, kitSchema, lampsSchema, routineSchema, testSchema } from '../actions/actions.schema.ts';
import { doserStateOf, noteDoserLook } from '../actions/doser.ts';
import { openNextKit } from '../actions/kit.ts';
import { turnLamps } from '../actions/lamps.ts';
import { takeOnRoutine } from '../actions/routine.ts';
import { quantityOfAlert } from '../pictures/quantity.rules.ts';
import { showAlert } from './alert-page.ts';

/** What is done about an alert on its own page. */
export function doingPages(app: FastifyInstance, service: Service): void {
  app.post('/watch/:id/lamps', takes(lampsSchema), (request, reply) => postLamps(service, request, reply));
  app.post('/watch/:id/kit', takes(kitSchema), (request, reply) => postKit(service, request, reply));
  app.post('/watch/:id/routine', takes(routineSchema), (request, reply) =>
    postRoutine(service, request, reply),
  );
  app.post(
    '/watch/:id/doser',
    takes(({ timeZone, now }) => doserSchema(timeZone, now)),
    (request, reply) => postDoser(service, request, reply),
  );
  app.post('/watch/:id/test', takes(testSchema), (request, reply) => postTest(service, request, reply));
  app.post('/watch/:id/looked', (request, reply) => postLooked(service, request, reply));
}

const alertOf = (service: Service, request: FastifyRequest) =>
  findAlert(service.pool, pathId(request, 'id', 'This alert'));

async function postLamps(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, subjectId, subjectType } = await alertOf(service, request);
  return submit(request, reply, {
    schema: lampsSchema,
    act: (work, { percent, up }) => {
      if (subjectType !== 'lamp') throw new Refusal('This alert is not about lamps.', { status: 409 });
      const mayPlan = up && request.person.role !== 'hand';
      const { id: siteId, timeZone } = request.site;
      return turnLamps(work, { lampId: subjectId, siteId, percent, up: mayPlan, timeZone });
    },
    done: ({ planned }, { percent }) => ({
      to: `/watch/${id}`,
      notice: `Lamps noted at ${percent} %.${planned === null ? '' : ` The steps up to ${planned} % are due on their days.`}`,
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postKit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const alert = await alertOf(service, request);
  return submit(request, reply, {
    schema: kitSchema,
    act: (work, value) => openNextKit(work, alert, value),
    done: (_, { label, tests }) => ({
      to: `/watch/${alert.id}`,
      notice: `${label} is open.${tests ? ' Three tests beside each other are due.' : ''}`,
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postRoutine(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const alert = await alertOf(service, request);
  return submit(request, reply, {
    schema: routineSchema,
    act: (work, value) => takeOnRoutine(work, alert, value, request.site.timeZone),
    done: () => ({ to: `/watch/${alert.id}`, notice: 'The routine is changed.' }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postDoser(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const alert = await alertOf(service, request);
  const { timeZone } = request.site;
  const quantityCode = quantityOfAlert(alert) ?? '';
  return submit(request, reply, {
    schema: doserSchema(timeZone, service.now()),
    act: (work, look) => noteDoserLook(work, alert, look, { quantityCode, timeZone }),
    done: (_, look) => ({
      to: `/watch/${alert.id}`,
      notice:
        doserStateOf(look) === 'wrong'
          ? 'Saved. It stays as urgent as it was until the doser gives its full amount again: say so here then.'
          : 'Saved. A test is due on each of the next three days.',
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

async function postTest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, systemId } = await alertOf(service, request);
  return submit(request, reply, {
    schema: testSchema,
    act: async (work, { code, value, unit, how, sure }) => {
      const entry = { quantityCode: code, text: value, unit, sure, ...parseInstrument(how) };
      try {
        return await enterReadings(work, { systemId, at: work.now, readings: [entry] });
      } catch (error) {
        throw error instanceof Refusal ? ofTheForm(error, code) : error;
      }
    },
    done: ({ readings: [reading] }) => ({
      to: `/watch/${id}`,
      notice: `Saved: ${reading?.said ?? ''}.${reading?.advice ? ` ${reading.advice}` : ''}`,
    }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

/** Fields of the readings' form are named by their quantity; here there is one. */
function ofTheForm({ message, status, fields }: Refusal, code: string): Refusal {
  const named = fields.map((one) => ({
    ...one,
    field: one.field === `${code}-sure` ? 'sure' : one.field === code ? 'value' : one.field,
  }));
  return new Refusal(message, { status, fields: named });
}

async function postLooked(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { id, rule, facet } = await alertOf(service, request);
  return submit(request, reply, {
    schema: z.object({}),
    act: async (work) => {
      if (rule === 'look-overdue') await noteLooked(work, facet, { at: work.now, note: '' });
      else await actOnAlert(work, id, 'checked it');
    },
    done: () => ({ to: `/watch/${id}`, notice: 'Saved: you looked.' }),
    again: (form) => showAlert(service, request, reply, form),
  });
}

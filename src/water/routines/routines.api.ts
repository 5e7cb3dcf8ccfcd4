import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { localDay } from '../../platform/days.ts';
import { id, made } from '../../platform/door/answer-parts.ts';
import { pageAsked, pageFields } from '../../platform/door/pages.ts';
import { answers, asks, takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { chosen } from '../../platform/web/fields.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { routinesAnswer, scheduleAnswer } from './answers.schema.ts';
import { endSchema, routineSchema } from './routines.schema.ts';
import {
  changeRoutine,
  endRoutine,
  listRoutines,
  pageOfRoutines,
  planRoutine,
  type RoutinePlace,
} from './routines.ts';
import { isWeighed } from './test-schedule.rules.ts';
import { readTestSchedule } from './test-schedule.ts';
import { scheduleWords } from './test-schedule.words.ts';

/** Routines as JSON: the same schemas and operations as the pages. */
export function routineApi(app: FastifyInstance, service: Service): void {
  app.get('/api/routines', asks(routinesQuery, routinesAnswer), (request) => getRoutines(service, request));
  app.get('/api/systems/:id/test-schedule', answers(scheduleAnswer), (request) =>
    getSchedule(service, request),
  );
  app.post(
    '/api/routines',
    takes(({ timeZone, now }) => named.and(routineSchema(timeZone, now)), { answers: made }),
    (request, reply) => postRoutine(service, request, reply),
  );
  app.post(
    '/api/routines/:id',
    takes(({ timeZone, now }) => routineSchema(timeZone, now).and(endSchema), {
      answers: made.extend({ systemId: id }),
    }),
    (request) => postChange(service, request),
  );
  app.post('/api/routines/:id/end', takes(endSchema, { answers: z.object({ systemId: id }) }), (request) =>
    postEnd(request),
  );
}

const named = z.object({ systemId: chosen('Name the system.') });

/** A system has some tens, and each change of one ends it (own choices). */
const bounds = { things: 'routines', most: 500, usual: 200 };

const routinesQuery = named.extend(pageFields(bounds));

const placeSchema = z.tuple([z.boolean(), z.iso.datetime(), z.uuid()]);

async function getRoutines(service: Service, request: FastifyRequest) {
  const { systemId, ...asked } = checked(routinesQuery, request.query);
  await findWaterSystem(service.db, systemId);
  const page = pageAsked<RoutinePlace>(asked, placeSchema, bounds);
  return pageOfRoutines(service.pool, systemId, page, service.now());
}

/** How often each quantity is worth testing: days and minutes, speeds in canonical units, and the words of the page. */
async function getSchedule(service: Service, request: FastifyRequest) {
  const now = service.now();
  const system = await findWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const { running } = await listRoutines(service.pool, [system.id], now);
  const schedule = await readTestSchedule(service, system, running, now);
  const { tests, unknown, basis } = scheduleWords(schedule, localDay(now, request.site.timeZone));
  return {
    systemId: system.id,
    tests: schedule.flatMap(({ quantity, routine, weighed }) =>
      isWeighed(weighed)
        ? {
            quantityCode: quantity.code,
            unit: quantity.canonicalUnit,
            routineId: routine?.id ?? null,
            version: routine?.version ?? null,
            everyDays: weighed.now,
            proposedEveryDays: weighed.proposed,
            minutesAWeek: weighed.minutes.now,
            proposedMinutesAWeek: weighed.minutes.proposed,
            isLate: weighed.isLate,
            troubles: weighed.goings,
            means: tests.find(({ quantityCode }) => quantityCode === quantity.code)?.why ?? [],
          }
        : [],
    ),
    unknown,
    basis,
  };
}

async function postRoutine(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { systemId } = checked(named, request.body);
  const input = checked(routineSchema(request.site.timeZone, service.now()), request.body);
  return reply.status(201).send(await request.change((work) => planRoutine(work, systemId, input)));
}

async function postChange(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This routine');
  const input = checked(routineSchema(request.site.timeZone, service.now()), request.body);
  const { version } = checked(endSchema, request.body);
  return request.change((work) => changeRoutine(work, id, { ...input, version }));
}

async function postEnd(request: FastifyRequest) {
  const id = pathId(request, 'id', 'This routine');
  const { version } = checked(endSchema, request.body);
  return request.change((work) => endRoutine(work, id, version));
}

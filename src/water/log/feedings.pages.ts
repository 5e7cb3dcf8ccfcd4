import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { backOf } from '../../platform/web/back.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findWaterSystem } from '../systems/systems.ts';
import { feedingHolds } from './feeding-check.ts';
import { addFeeding, feedingSchema, listFedTanks, listFeedings, notePumpsOn, usedFoods } from './feedings.ts';
import { paginateLog } from './log.ts';
import { feedingWords } from './words.rules.ts';

/** The log of a system's feedings with its form on top, and pumps that were off for one and run again. */
export function feedingPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/feedings', (request, reply) => showFeedings(service, request, reply));
  app.post(
    '/water/systems/:id/feedings',
    takes(({ timeZone, now }) => feedingSchema(timeZone, now)),
    (request, reply) => postFeeding(service, request, reply),
  );
  app.post('/water/feedings/:id/pumps', (request, reply) => postPumpsOn(request, reply));
}

const systemOf = (service: Service, request: FastifyRequest) =>
  findWaterSystem(service.db, pathId(request, 'id', 'This system'));

async function showFeedings(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const system = await systemOf(service, request);
  const [{ entries: feedings, pager }, known, tanks] = await Promise.all([
    paginateLog(request, system.id, (query) => listFeedings(service.pool, query)),
    usedFoods(service.db, system.id),
    listFedTanks(service.db, system.id),
  ]);
  const fresh = {
    food: '',
    amountG: '',
    tankId: '',
    pumpsOffMin: '',
    response: '',
    reason: '',
    sure: '',
    at: inputMoment(service.now(), request.site.timeZone),
  };
  const form = refused ?? freshForm(fresh);
  const holds = await feedingHolds(service.pool, [system.id]);
  const entries = feedings.map((feeding) => ({
    ...feeding,
    words: feedingWords(feeding),
    pumpsStillOff: feeding.switchedOff && feeding.pumpsOnAt === null && feeding.voidedAt === null,
  }));
  const data = {
    system,
    entries,
    pager,
    known,
    holds,
    asksWhy: holds.length > 0 || (form.typed.reason ?? '') !== '',
    asksSure: form.errors.some(({ field }) => field === 'amountG-sure'),
    tanks: tanks.map((tank) => ({ value: tank.id, text: tank.name })),
  };
  return showPage(service, request, reply, 'water/feedings', data, {
    title: `Feedings: ${system.name}`,
    area: 'water',
    form,
  });
}

async function postFeeding(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const system = await systemOf(service, request);
  return submit(request, reply, {
    schema: feedingSchema(request.site.timeZone, service.now()),
    act: (work, value) => addFeeding(work, system.id, value),
    done: (_, { food, amountG, pumpsOffMin }) => {
      const pumps =
        pumpsOffMin === null
          ? ''
          : ` The pumps are off: turn them on within ${pumpsOffMin} min and say so below.`;
      return {
        to: `/water/systems/${system.id}/feedings`,
        notice: `Saved: ${feedingWords({ food, amountG, tank: null })}.${pumps}`,
      };
    },
    again: (form) => showFeedings(service, request, reply, form),
  });
}

async function postPumpsOn(request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This feeding');
  const { systemId } = await request.change((work) => notePumpsOn(work, id));
  request.session.set('notice', 'Noted: the pumps run again.');
  return reply.redirect(backOf(request) ?? `/water/systems/${systemId}/feedings`, 303);
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { made } from '../../platform/door/answer-parts.ts';
import { takes } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { minuteMs } from '../../science/numeric/time.ts';
import { findRack } from '../racks/racks.ts';
import { slotName } from '../racks/slots.rules.ts';
import { slotsOfRack } from '../racks/slots.ts';
import { surveyBody } from './surveys.schema.ts';
import { enterSurvey } from './surveys.ts';

export function surveyApi(app: FastifyInstance, service: Service): void {
  app.post('/api/light-surveys', takes(surveyBody, { answers: surveyAnswer }), (request, reply) =>
    postSurvey(service, request, reply),
  );
}

/** What was kept; where the lamps' setting is not known, what is asked. */
const surveyAnswer = made.extend({
  lampPercent: z.number().nullable(),
  asks: z.string().nullable(),
});

async function postSurvey(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { rackId, points, ...head } = checked(surveyBody, request.body);
  refuseAhead(head.measuredAt, service.now());
  const rack = await findRack(service.db, rackId);
  const slots = new Map((await slotsOfRack(service.db, rack)).map((slot) => [slotName(slot), slot.slotId]));
  const known = points.map(({ slot, raw }, i) => {
    const slotId = slots.get(slot);
    if (slotId !== undefined) return { slotId, raw };
    throw new Refusal(`There is no slot ${slot} on ${rack.name}.`, { field: `points.${i}.slot` });
  });
  if (new Set(known.map((point) => point.slotId)).size < known.length)
    throw new Refusal('A slot is named twice. Send one reading a slot.', { field: 'points' });
  const input = { ...head, points: known };
  const made = await request.change((work) => enterSurvey(work, rackId, input, request.site.timeZone));
  const { id, lampPercent } = made;
  const asks =
    lampPercent === null && rack.lamp !== null
      ? `At what per cent did the lamps of ${rack.name} stand? Without lampPercent the light is not scaled when they are turned. Enter their setting, void this survey and send it again.`
      : null;
  return reply
    .status(201)
    .header('location', `/racks/${rackId}/surveys/${id}`)
    .send({ id, lampPercent, asks });
}

function refuseAhead(measuredAt: Date, now: Date): void {
  if (measuredAt.getTime() <= now.getTime() + 5 * minuteMs) return;
  throw new Refusal('That is in the future. Send when it was measured.', { field: 'measuredAt' });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { many, optionalText, text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment, statedMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { lotHref } from '../base/lot-href.ts';
import { listRacks } from '../places/free-slots.ts';
import { placeWords } from '../places/slots.ts';
import type { DependsOnLot } from './dependents.ts';
import {
  amendPlacement,
  dependsOnPlacement,
  readPlacement,
  slotsFreeThen,
  takeBackPlacement,
} from './placements.ts';

/** Correcting where and since when a lot stood, and taking back what never was. */
export function placementAmendmentPages(
  app: FastifyInstance,
  service: Service,
  dependsOnLot: DependsOnLot,
): void {
  app.get('/placements/:id/correction', (request, reply) => show(service, dependsOnLot, request, reply));
  app.post(
    '/placements/:id/correction',
    takes(({ timeZone, now }) => correctionBody(timeZone, now)),
    (request, reply) => postCorrection(service, dependsOnLot, request, reply),
  );
  app.post('/placements/:id/removal', takes(removalBody), (request, reply) =>
    postRemoval(service, dependsOnLot, request, reply),
  );
}

const placementId = (request: FastifyRequest) => pathId(request, 'id', 'This placement');

async function show(
  service: Service,
  dependsOnLot: DependsOnLot,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const placement = await readPlacement(service.pool, placementId(request));
  const racks = await listRacks(service.pool, request.site.id);
  const asked = (request.query as { rack?: string } | undefined)?.rack ?? refused?.typed.rack ?? '';
  const rackId = racks.find(({ id }) => id === asked)?.id ?? placement.rackId;
  const slots = await slotsFreeThen(service.pool, rackId, placement);
  const at = inputMoment(placement.fromAt, request.site.timeZone);
  const form = refused ?? freshForm({ at, reason: '' });
  const chosen = refused === undefined ? placement.slotIds : [form.typed.slot ?? []].flat();
  const data = {
    placement,
    place: placeWords(placement.rackName, placement.cells),
    back: lotHref(placement.code),
    rests: await dependsOnPlacement(service.pool, placement, dependsOnLot),
    racks: racks.map(({ id, name }) => ({ value: id, text: name })),
    rackId,
    slots: slots.map((slot) => ({ ...slot, chosen: chosen.includes(slot.id) })),
  };
  const title = `Correct where ${placement.code} was`;
  return showPage(service, request, reply, 'stock/placement', data, { title, area: 'stock', form });
}

const correctionBody = (timeZone: string, now: Date) =>
  z.object({
    slot: many().pipe(z.array(z.uuid('Choose a slot on the rack.')).min(1, 'Choose at least one slot.')),
    at: statedMoment('since when it was there', timeZone, now),
    reason: optionalText(500),
  });

function postCorrection(
  service: Service,
  dependsOnLot: DependsOnLot,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  return submit(request, reply, {
    schema: correctionBody(request.site.timeZone, service.now()),
    act: (work, { slot, at, reason }) =>
      amendPlacement(work, placementId(request), { slotIds: slot, at, reason }, dependsOnLot),
    done: ({ code }) => ({ to: lotHref(code), notice: `Where ${code} was is corrected.` }),
    again: (form) => show(service, dependsOnLot, request, reply, form),
  });
}

const removalBody = z.object({ reason: text('why it was wrong', 500) });

function postRemoval(
  service: Service,
  dependsOnLot: DependsOnLot,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  return submit(request, reply, {
    schema: removalBody,
    act: (work, { reason }) => takeBackPlacement(work, placementId(request), reason),
    done: ({ code }) => ({ to: lotHref(code), notice: `Taken back: ${code} was never there.` }),
    again: (form) => show(service, dependsOnLot, request, reply, form),
  });
}

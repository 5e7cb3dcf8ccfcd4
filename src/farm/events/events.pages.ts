import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { choice, optionalText, text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment, pastMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findSystem } from '../systems/systems.ts';
import { listEvents, logEvent, voidEvent } from './events.ts';
import { eventCodes, eventKinds } from './kinds.rules.ts';

/** What changed a water's habits: logged in two taps, taken back with a reason. */
export function eventPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/systems/:id/events', (request, reply) => showEvents(service, request, reply));
  app.post(
    '/farm/systems/:id/events',
    takes(({ timeZone, now }) => eventBody(timeZone, now)),
    (request, reply) => postEvent(service, request, reply),
  );
  app.post('/farm/systems/:id/events/:eventId/void', takes(voidBody), (request, reply) =>
    postVoid(service, request, reply),
  );
}

const systemOf = (request: FastifyRequest) => pathId(request, 'id', 'This system');
const pathOf = (systemId: string) => `/farm/systems/${systemId}/events`;

async function showEvents(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const system = await findSystem(service.db, systemOf(request));
  const events = await listEvents(service.db, system.id);
  const data = {
    system,
    path: pathOf(system.id),
    kinds: eventCodes.map((kind) => ({ value: kind, text: eventKinds[kind] })),
    events: events.map((event) => ({ ...event, what: eventKinds[event.kind] })),
  };
  const form = refused ?? freshForm({ at: inputMoment(service.now(), request.site.timeZone), note: '' });
  return showPage(service, request, reply, 'farm/events', data, { title: `Events: ${system.name}`, form });
}

const eventBody = (timeZone: string, now: Date) =>
  z.object({
    kind: choice(eventCodes, 'Choose what happened.'),
    at: pastMoment(timeZone, now),
    note: optionalText(500),
  });

async function postEvent(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const systemId = systemOf(request);
  return submit(request, reply, {
    schema: eventBody(request.site.timeZone, service.now()),
    act: (work, value) => logEvent(work, systemId, value),
    done: (_, { kind }) => ({
      to: pathOf(systemId),
      notice: `${eventKinds[kind]}: logged. Use and habits are learnt again from there.`,
    }),
    again: (form) => showEvents(service, request, reply, form),
  });
}

const voidBody = z.object({ reason: text('why it does not count', 300) });

async function postVoid(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const systemId = systemOf(request);
  return submit(request, reply, {
    schema: voidBody,
    act: (work, { reason }) => voidEvent(work, pathId(request, 'eventId', 'This event'), reason),
    done: () => ({ to: pathOf(systemId), notice: 'Taken back. What was learnt before it counts again.' }),
    again: (form) => showEvents(service, request, reply, form),
  });
}

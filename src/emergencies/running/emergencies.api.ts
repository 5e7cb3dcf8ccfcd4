import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { checked } from '../../platform/web/json.ts';
import { pageData } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { events } from '../events/events.rules.ts';
import { type EmergencyInput, emergencySchema } from './emergencies.schema.ts';
import { takeEmergency } from './emergencies.ts';

/** What tablets send of an emergency, and what they keep for when the network is away. */
export function emergencyApi(app: FastifyInstance, service: Service): void {
  app.get('/api/emergencies', (request, reply) => getPages(service, request, reply));
  app.post('/api/emergencies/:id', (request) => postEmergency(service, request));
}

/** The pages a tablet keeps, and the token with which it sends. */
async function getPages(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { csrf } = pageData(service, request, reply, { title: 'Something is wrong' });
  reply.header('cache-control', 'no-store');
  return { csrf, pages: ['/emergencies', ...events.map(({ code }) => `/emergencies/events/${code}`)] };
}

async function postEmergency(service: Service, request: FastifyRequest) {
  const id = pathId(request, 'id', 'This record');
  const input = byServiceClock(checked(emergencySchema, request.body), request, service.now());
  await request.change((work) => takeEmergency(work, request.site.id, id, input));
  return { id, entries: input.entries.map((entry) => entry.id) };
}

/** Times by the service's clock, where the device says what its own showed (header `Device-Time`). */
function byServiceClock(input: EmergencyInput, request: FastifyRequest, now: Date): EmergencyInput {
  const said = z.iso.datetime({ offset: true }).safeParse(request.headers['device-time']);
  const ahead = said.success ? Date.parse(said.data) - now.getTime() : 0;
  const put = (at: Date) => new Date(at.getTime() - ahead);
  const entries = input.entries.map((entry) => ({ ...entry, at: put(entry.at) }));
  return { ...input, startedAt: put(input.startedAt), entries };
}

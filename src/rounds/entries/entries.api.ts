import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { sharedWith } from '../../people/tablets.ts';
import { entryOutcomes } from '../../platform/door/answer-parts.ts';
import { answers } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { fieldErrors } from '../../platform/views/field-errors.ts';
import { pathId } from '../../platform/web/requests.ts';
import { entryList } from './entries.schema.ts';
import { type Answer, takeEntries } from './entries.ts';

/** What tablets send: a list of entries in the order they were tapped, and an answer for each. */
export function entryApi(app: FastifyInstance, service: Service): void {
  app.post('/api/rounds/:id/entries', answers(z.object({ entries: entryOutcomes })), (request) =>
    postEntries(service, request),
  );
}

async function postEntries(service: Service, request: FastifyRequest): Promise<{ entries: Answer[] }> {
  const parsed = entryList.safeParse(request.body);
  if (!parsed.success) {
    throw new Refusal('This is not a list of entries.', { status: 422, fields: fieldErrors(parsed.error) });
  }
  const sender = {
    roundId: pathId(request, 'id', 'This round'),
    by: request.person.id,
    sharedWith: await sharedWith(service.db, request),
    deviceNow: deviceTime(request),
  };
  return { entries: await takeEntries(service, sender, parsed.data) };
}

/** What the device's clock showed as it sent this (header `Device-Time`); null where it does not say, or nonsense. */
function deviceTime(request: FastifyRequest): Date | null {
  const sent = z.iso.datetime({ offset: true }).safeParse(request.headers['device-time']);
  return sent.success ? new Date(sent.data) : null;
}

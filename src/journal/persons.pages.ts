import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { listWorkers } from '../people/memberships.ts';
import { takes } from '../platform/door/takes.ts';
import { notFound } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { chosen, optionalText } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { correctPerson, findSigned, isSigned, type SignedNoun } from './persons.ts';

/** Naming who did what an entry tells, where somebody else was signed in. */
export function personPages(app: FastifyInstance, service: Service): void {
  app.get('/persons/:noun/:id', (request, reply) => show(service, request, reply));
  app.post('/persons/:noun/:id', takes(personSchema), (request, reply) => post(service, request, reply));
}

const personSchema = z.object({ personId: chosen('Choose who did it.'), reason: optionalText(500) });

/** @throws Refusal 404 */
function askedOf(request: FastifyRequest): { noun: SignedNoun; id: string } {
  const { noun = '' } = request.params as { noun?: string };
  if (!isSigned(noun)) throw notFound('This page');
  return { noun, id: pathId(request, 'id', 'This entry') };
}

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { noun, id } = askedOf(request);
  const [entry, people] = await Promise.all([
    findSigned(service.pool, noun, id),
    listWorkers(service.db, request.site.id),
  ]);
  const form = refused ?? freshForm({ personId: entry.accountId, reason: '' });
  const data = {
    entry,
    action: `/persons/${noun}/${id}`,
    people: people.map(({ id: value, name }) => ({ value, text: name })),
  };
  return showPage(service, request, reply, 'journal/person', data, { title: 'Who did it', form });
}

function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { noun, id } = askedOf(request);
  return submit(request, reply, {
    schema: personSchema,
    act: (work, value) => correctPerson(work, noun, id, value),
    done: ({ href }) => ({ to: href, notice: 'Who did it is corrected. The journal keeps who entered it.' }),
    again: (form) => show(service, request, reply, form),
  });
}

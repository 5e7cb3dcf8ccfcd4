import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../platform/door/takes.ts';
import { notFound, Refusal } from '../platform/refusal.ts';
import { seenNow } from '../platform/seen.ts';
import type { Service } from '../platform/service.ts';
import { text } from '../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import {
  findRemovable,
  isRemovable,
  type RemovableNoun,
  removableStanding,
  removables,
  removeThing,
  usesOf,
} from './removals.ts';

/** Removing what was entered by mistake, and what uses it. */
export function removalPages(app: FastifyInstance, service: Service): void {
  app.get('/removals/:noun/:id', (request, reply) => show(service, request, reply));
  app.post('/removals/:noun/:id', takes(removalSchema), (request, reply) => post(service, request, reply));
}

const removalSchema = z.object({ reason: text('why it was wrong', 500) });

/** What is asked for. People are the owner's. @throws Refusal 403, 404 */
function askedOf(request: FastifyRequest): { noun: RemovableNoun; id: string } {
  const { noun = '' } = request.params as { noun?: string };
  if (!isRemovable(noun)) throw notFound('This page');
  if (noun === 'account' && request.person.role !== 'owner')
    throw new Refusal('This page is for the owner. Ask one of them.', { status: 403 });
  return { noun, id: pathId(request, 'id', 'This record') };
}

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { noun, id } = askedOf(request);
  const found = await findRemovable(service.pool, noun, id);
  const uses = await usesOf(service.pool, noun, id);
  const data = {
    thing: found,
    seen: await seenNow(service.db, removableStanding(noun, id)),
    action: `/removals/${noun}/${id}`,
    uses: uses.map((one) => ({ ...one, more: one.rows - one.some.length })),
    otherwise: removables[noun].otherwise,
  };
  const form = refused ?? freshForm({ reason: '' });
  return showPage(service, request, reply, 'journal/removal', data, { title: `Remove ${found.name}`, form });
}

function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { noun, id } = askedOf(request);
  return submit(request, reply, {
    schema: removalSchema,
    over: removableStanding(noun, id),
    act: (work, { reason }) => removeThing(work, noun, id, reason),
    done: (name) => ({ to: homes[noun], notice: `${name} is removed. The journal keeps what it was.` }),
    again: (form) => show(service, request, reply, form),
  });
}

/** Where each kind is listed. */
const homes: Readonly<Record<RemovableNoun, string>> = {
  system: '/farm',
  tank: '/farm',
  rack: '/farm',
  room: '/farm/rooms',
  lamp: '/farm',
  equipment: '/farm/equipment',
  circuit: '/farm/circuits',
  contact: '/farm/contacts',
  kit: '/water/kits',
  method: '/water/methods',
  routine: '/water',
  round_plan: '/rounds/plans',
  account: '/people',
};

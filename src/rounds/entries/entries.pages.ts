import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { text } from '../../platform/web/fields.ts';
import { type FormState, submit } from '../../platform/web/forms.ts';
import { checked } from '../../platform/web/json.ts';
import { pathId } from '../../platform/web/requests.ts';
import { choreOf } from '../round/chores.rules.ts';
import { showCount, showLot, showOverview, showSystem, showTests } from '../screens/screens.pages.ts';
import { roundPath } from '../screens/screens.ts';
import { type Entry, entrySchema } from './entries.schema.ts';
import { acceptDoubtful, closeRefused, noteEntry } from './entries.ts';

/** Noting by plain forms: the same entries as a tablet sends, one at a time. */
export function entryPages(app: FastifyInstance, service: Service): void {
  app.post('/rounds/:id/entries', takes(entrySchema), (request, reply) => postEntry(service, request, reply));
  app.post('/rounds/:id/refused/:entryId', takes(leftOut), (request, reply) => postLeftOut(request, reply));
  app.post('/rounds/:id/refused/:entryId/sure', (request, reply) => postSure(request, reply));
}

/** A page of this very round, or the round itself: where a form may lead next. */
function nextOf(request: FastifyRequest, id: string): string {
  const next = (request.body as { next?: unknown } | undefined)?.next;
  const own = roundPath(id);
  return typeof next === 'string' && (next === own || next.startsWith(`${own}/`)) ? next : own;
}

async function postEntry(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This round');
  return submit(request, reply, {
    schema: entrySchema,
    act: (work, entry) => noteEntry(work, id, entry, { at: null, deviceNow: null }),
    done: (_, entry) => ({ to: nextOf(request, id), ...noticeOf(entry) }),
    again: (form) => drawAgain(service, request, reply, form),
  });
}

function noticeOf(entry: Entry): { notice?: string } {
  if (entry.kind === 'pumps_on') return { notice: 'Noted: the pumps run again.' };
  if ((entry.kind === 'feeding' || entry.kind === 'task') && entry.pumpsOffMin !== null)
    return { notice: `Fed. Turn the pumps on again within ${entry.pumpsOffMin} min and say so here.` };
  if (entry.kind === 'finished') return { notice: 'The round is finished.' };
  return entry.kind === 'task' ? { notice: 'Noted as done.' } : {};
}

const leftOut = z.object({ why: text('why it is left out', 300) });
const address = z.looseObject({ rackId: z.uuid(), lotId: z.uuid() });
const shelfOf = z.looseObject({ kind: z.literal('shelf_count'), rackId: z.uuid() });
const system = z.looseObject({ systemId: z.uuid() });

/** Draws the page of the refused form again, everything as typed. */
function drawAgain(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const shelf = shelfOf.safeParse(request.body);
  if (shelf.success) return showCount(service, request, reply, shelf.data.rackId, form);
  const lot = address.safeParse(request.body);
  if (lot.success) return showLot(service, request, reply, lot.data, form);
  const fed = system.safeParse(request.body);
  if (fed.success && form.typed.kind === 'reading')
    return showTests(service, request, reply, fed.data.systemId, form);
  if (fed.success) return showSystem(service, request, reply, fed.data.systemId, form);
  const chore = choreOf(String(form.typed.key ?? ''));
  if (form.typed.kind === 'chore' && chore?.systemId != null)
    return showSystem(service, request, reply, chore.systemId, form);
  if (form.typed.kind === 'chore' && chore !== null) return showOverview(service, request, reply, form);
  request.session.set('notice', form.errors[0]?.message ?? 'That was not taken.');
  return reply.status(303).redirect(nextOf(request, pathId(request, 'id', 'This round')), 303);
}

/** A note that was not taken is left out for good, by a person's word. */
async function postLeftOut(request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This round');
  const { why } = checked(leftOut, request.body ?? {});
  await request.change((work) => closeRefused(work, pathId(request, 'entryId', 'This note'), { why }));
  return reply.redirect(`${roundPath(id)}/end`, 303);
}

/** A reading that was doubted is taken as it was sent, by a person's word. */
async function postSure(request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This round');
  await request.change((work) => acceptDoubtful(work, pathId(request, 'entryId', 'This note')));
  return reply.redirect(`${roundPath(id)}/end`, 303);
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { text } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { findUpkeep, removeUpkeep } from './upkeep.ts';

/** Taking back a service or a test that was noted by mistake. */
export function upkeepPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/upkeep/:id/removal', (request, reply) => show(service, request, reply));
  app.post('/farm/upkeep/:id/removal', takes(removalSchema), (request, reply) =>
    post(service, request, reply),
  );
}

const removalSchema = z.object({ reason: text('what was wrong', 300) });

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const done = await findUpkeep(service.db, pathId(request, 'id', 'This service'));
  const what = done.work === 'test' ? 'Tested' : 'Serviced';
  const form = refused ?? freshForm({ reason: '' });
  return showPage(
    service,
    request,
    reply,
    'farm/upkeep-removal',
    { done, what },
    {
      title: `Take back: ${what.toLowerCase()}`,
      form,
    },
  );
}

async function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This service');
  return submit(request, reply, {
    schema: removalSchema,
    act: (work, { reason }) => removeUpkeep(work, id, reason),
    done: ({ href, name }) => ({ to: href, notice: `${name}: taken back. It is due as before.` }),
    again: (form) => show(service, request, reply, form),
  });
}

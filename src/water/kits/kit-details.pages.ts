import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { inputMoment } from '../../platform/web/moments.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { editKit } from './kit-details.ts';
import { kitDetailsSchema } from './kits.schema.ts';
import { findKit } from './kits.ts';

/** Correcting what was entered of a kit. */
export function kitDetailsPages(app: FastifyInstance, service: Service): void {
  app.get('/water/kits/:id/details', (request, reply) => show(service, request, reply));
  app.post(
    '/water/kits/:id/details',
    takes(({ timeZone, now }) => kitDetailsSchema(timeZone, now)),
    (request, reply) => post(service, request, reply),
  );
}

const kitId = (request: FastifyRequest) => pathId(request, 'id', 'This kit');

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { id, label, lotNumber, version, uses, ...kit } = await findKit(service.db, kitId(request));
  const openedAt = inputMoment(kit.openedAt, request.site.timeZone);
  const expiresOn = kit.expiresOn?.toISOString().slice(0, 10) ?? '';
  const typed = refused ?? freshForm({ label, lotNumber, openedAt, expiresOn, uses, version });
  const { form, theirs } = afterStale(typed, reply, { version }, [label, lotNumber].join(' ').trim());
  const data = { kit: { id, label }, theirs };
  return showPage(service, request, reply, 'water/kit-details', data, { title: label, area: 'water', form });
}

function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = kitId(request);
  return submit(request, reply, {
    schema: kitDetailsSchema(request.site.timeZone, service.now()),
    act: (work, details) => editKit(work, id, details),
    done: (_, { label }) => ({ to: `/water/kits/${id}`, notice: `${label} is changed.` }),
    again: (form) => show(service, request, reply, form),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { holdPackedToSite } from '../probe-days/unpacked.ts';
import { findVoidable, type VoidableKind, voidableKinds, voidEntry, voidingSchema } from './voiding.ts';

/** Voiding what was entered: one page for every kind of entry. */
export function voidingPages(app: FastifyInstance, service: Service): void {
  for (const kind of voidableKinds) {
    app.get(`/water/${kind}/:id/voiding`, (request, reply) => showVoiding(service, request, reply, kind));
    app.post(`/water/${kind}/:id/voiding`, takes(voidingSchema), (request, reply) =>
      postVoiding(service, request, reply, kind),
    );
  }
}

async function showVoiding(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  kind: VoidableKind,
  refused?: FormState,
) {
  const id = await voidableId(service, request, kind);
  const entry = await findVoidable(service.db, kind, id);
  const form = refused ?? freshForm({ reason: '' });
  return showPage(
    service,
    request,
    reply,
    'water/voiding',
    { entry: { ...entry, id }, signed: entry.signed, action: `/water/${kind}/${id}/voiding` },
    { title: 'Void an entry', area: 'water', form },
  );
}

async function postVoiding(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  kind: VoidableKind,
) {
  const id = await voidableId(service, request, kind);
  return submit(request, reply, {
    schema: voidingSchema,
    act: (work, { reason }) => voidEntry(work, kind, id, reason),
    done: ({ home, what }) => ({
      to: home,
      notice: `Voided: ${what}. It stays in view and no longer counts.`,
    }),
    again: (form) => showVoiding(service, request, reply, kind, form),
  });
}

async function voidableId(service: Service, request: FastifyRequest, kind: VoidableKind): Promise<string> {
  const id = pathId(request, 'id', 'This entry');
  if (kind === 'readings') await holdPackedToSite(service.db, id, request.site.id);
  return id;
}

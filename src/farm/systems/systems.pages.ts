import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { systemEditSchema, systemSchema } from './systems.schema.ts';
import { addSystem, type CountLots, editSystem, findSystem } from './systems.ts';

/** Setting up systems. */
export function systemPages(app: FastifyInstance, service: Service, countLots: CountLots): void {
  const empty = () => freshForm({ name: '', volumeL: '', note: '' });
  app.get('/farm/systems/new', (request, reply) => showNew(service, request, reply, empty()));
  app.post('/farm/systems', (request, reply) => postNew(service, request, reply));
  app.get('/farm/systems/:id', (request, reply) => showEdit(service, request, reply));
  app.post('/farm/systems/:id', (request, reply) => postEdit(service, countLots, request, reply));
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This system');

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, form: FormState) {
  const data = { heading: 'A new system', action: '/farm/systems', system: null, theirs: null };
  return showPage(service, request, reply, 'farm/system', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: systemSchema,
    act: (work, value) => addSystem(work, request.site.id, value),
    done: (_, { name }) => ({ to: '/farm', notice: `${name} is added.` }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const system = await findSystem(service.db, idOf(request));
  const { name, volumeL, note, version } = system;
  const retired = system.retiredAt === null ? '' : 'yes';
  const typed = refused ?? freshForm({ name, volumeL, note, retired, version });
  const { form, theirs } = afterStale(
    typed,
    reply,
    { version },
    `${name}, ${volumeL} L${note && `, ${note}`}`,
  );
  const data = { heading: name, action: `/farm/systems/${system.id}`, system, theirs };
  return showPage(service, request, reply, 'farm/system', data, { title: name, form });
}

async function postEdit(
  service: Service,
  countLots: CountLots,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: systemEditSchema,
    act: (work, value) => editSystem(work, id, value, countLots),
    done: (_, { name, retired }) => ({
      to: '/farm',
      notice: retired ? `${name} is out of service.` : `${name} is changed.`,
    }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

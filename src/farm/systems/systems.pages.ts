import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Reader, Service } from '../../platform/service.ts';
import { inputLitres, litresNoted } from '../../platform/units/measures.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { systemEditSchema, systemSchema } from './systems.schema.ts';
import { addSystem, type CountLots, editSystem, findSystem, type StartBands } from './systems.ts';

/** What setting up a system asks of the areas above. */
export interface AroundSystems {
  countLotsInSystem: CountLots;
  startBands: StartBands;
  /** The kinds of stock to choose from. */
  stockKinds: (db: Reader) => Promise<{ value: string; text: string }[]>;
}

/** Setting up systems. */
export function systemPages(app: FastifyInstance, service: Service, around: AroundSystems): void {
  const empty = () => freshForm({ name: '', volumeL: '', note: '', stockKindId: '' });
  app.get('/farm/systems/new', (request, reply) => showNew(service, around, request, reply, empty()));
  app.post('/farm/systems', takes(systemSchema), (request, reply) =>
    postNew(service, around, request, reply),
  );
  app.get('/farm/systems/:id', (request, reply) => showEdit(service, around, request, reply));
  app.post('/farm/systems/:id', takes(systemEditSchema), (request, reply) =>
    postEdit(service, around, request, reply),
  );
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This system');

async function showNew(
  service: Service,
  { stockKinds }: AroundSystems,
  request: FastifyRequest,
  reply: FastifyReply,
  form: FormState,
) {
  const kinds = await stockKinds(service.db);
  const data = { heading: 'A new system', action: '/farm/systems', system: null, theirs: null, kinds };
  return showPage(service, request, reply, 'farm/system', data, { title: data.heading, form });
}

async function postNew(
  service: Service,
  around: AroundSystems,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  return submit(request, reply, {
    schema: systemSchema,
    act: (work, value) => addSystem(work, request.site.id, value, around.startBands),
    done: (_, { name }) => ({
      to: '/farm',
      notice: `${name} is added, with bands to start from. Check them under Water, “Target bands”.`,
    }),
    again: (form) => showNew(service, around, request, reply, form),
  });
}

async function showEdit(
  service: Service,
  { stockKinds }: AroundSystems,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const system = await findSystem(service.db, idOf(request));
  const { name, volumeL, note, stockKindId, version } = system;
  const retired = system.retiredAt === null ? '' : 'yes';
  const typed =
    refused ??
    freshForm({
      name,
      volumeL: inputLitres(volumeL),
      note,
      stockKindId,
      retired,
      version,
    });
  const { form, theirs } = afterStale(
    typed,
    reply,
    { version },
    `${name}, ${litresNoted(volumeL)}${note && `, ${note}`}`,
  );
  const kinds = await stockKinds(service.db);
  const data = { heading: name, action: `/farm/systems/${system.id}`, system, theirs, kinds };
  return showPage(service, request, reply, 'farm/system', data, { title: name, form });
}

async function postEdit(
  service: Service,
  around: AroundSystems,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const id = idOf(request);
  return submit(request, reply, {
    schema: systemEditSchema,
    act: (work, value) => editSystem(work, id, value, around.countLotsInSystem),
    done: (_, { name, retired }) => ({
      to: '/farm',
      notice: retired ? `${name} is out of service.` : `${name} is changed.`,
    }),
    again: (form) => showEdit(service, around, request, reply, form),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../platform/service.ts';
import { type FormState, freshForm, submit } from '../platform/web/forms.ts';
import { showPage } from '../platform/web/pages.ts';
import { pathId } from '../platform/web/requests.ts';
import { rackEditSchema, rackSchema } from './racks.schema.ts';
import { addRack, editRack, findRack } from './racks.ts';
import { afterStale } from './stale.ts';
import { findTank } from './tanks.ts';
import { baseOptions } from './words.ts';

/** Setting up racks. */
export function rackSetupPages(app: FastifyInstance, service: Service): void {
  const manager = { config: { access: 'manager' as const } };
  app.get('/farm/tanks/:id/racks/new', manager, (request, reply) => showNew(service, request, reply));
  app.post('/farm/tanks/:id/racks', manager, (request, reply) => postNew(service, request, reply));
  app.get('/farm/racks/:id', manager, (request, reply) => showEdit(service, request, reply));
  app.post('/farm/racks/:id', manager, (request, reply) => postEdit(service, request, reply));
}

const nothing = { name: '', rows: 5, columns: 10, depthMm: '', base: 'egg_crate', lampId: '', note: '' };

/** Lamps above a tank to choose from. */
async function lampOptions(service: Service, tankId: string) {
  const lamps = await service.db.lamp.findMany({ where: { tankId }, orderBy: { name: 'asc' } });
  return lamps.map(({ id, name }) => ({ value: id, text: name }));
}

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const lamps = await lampOptions(service, tank.id);
  const lampId = lamps.length === 1 ? lamps[0]?.value : '';
  const form = refused ?? freshForm({ ...nothing, lampId });
  const action = `/farm/tanks/${tank.id}/racks`;
  const data = {
    heading: 'A new rack',
    tank,
    system: tank.system,
    rack: null,
    lamps,
    bases: baseOptions,
    action,
    theirs: null,
  };
  return showPage(service, request, reply, 'farm/rack', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tankId = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: rackSchema,
    act: (work, value) => addRack(work, tankId, value),
    done: ({ id }, { name }) => ({
      to: `/racks/${id}`,
      notice: `${name} is added with its slots. Measure its light next, and say where the flow is.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const rack = await findRack(service.db, pathId(request, 'id', 'This rack'));
  const { name, rows, columns, depthMm, base, lampId, note, version, tank, system } = rack;
  const typed =
    refused ?? freshForm({ name, rows, columns, depthMm: depthMm / 10, base, lampId, note, version });
  const said = `${name}, ${rows} × ${columns} slots, ${depthMm / 10} cm deep, ${rack.lamp?.name ?? 'no lamps'}`;
  const { form, theirs } = afterStale(typed, reply, { version }, said);
  const lamps = await lampOptions(service, tank.id);
  const data = {
    heading: name,
    tank,
    system,
    rack,
    lamps,
    bases: baseOptions,
    action: `/farm/racks/${rack.id}`,
    theirs,
  };
  return showPage(service, request, reply, 'farm/rack', data, { title: name, form });
}

async function postEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This rack');
  return submit(request, reply, {
    schema: rackEditSchema,
    act: async (work, value) => void (await editRack(work, id, value)),
    done: (_, { name }) => ({ to: `/racks/${id}`, notice: `${name} is changed.` }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

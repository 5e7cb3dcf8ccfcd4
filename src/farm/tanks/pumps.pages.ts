import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { pumpEditSchema, pumpSchema } from './pumps.schema.ts';
import { addPump, editPump, findPump } from './pumps.ts';
import { findTank } from './tanks.ts';

/** Setting up the pumps that move a tank's water. */
export function pumpPages(app: FastifyInstance, service: Service): void {
  const manager = { config: { access: 'manager' as const } };
  app.get('/farm/tanks/:id/pumps/new', manager, (request, reply) => showNew(service, request, reply));
  app.post('/farm/tanks/:id/pumps', manager, (request, reply) => postNew(service, request, reply));
  app.get('/farm/pumps/:id', manager, (request, reply) => showEdit(service, request, reply));
  app.post('/farm/pumps/:id', manager, (request, reply) => postEdit(service, request, reply));
}

const emptyForm = { name: '', leftMm: '', backMm: '', depthMm: '', facingDeg: '', runs: '', note: '' };

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const form = refused ?? freshForm(emptyForm);
  const { system } = tank;
  const action = `/farm/tanks/${tank.id}/pumps`;
  const data = { heading: 'A new pump', tank, system, pump: null, theirs: null, action };
  return showPage(service, request, reply, 'farm/pump', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tankId = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: pumpSchema,
    act: (work, value) => addPump(work, tankId, value),
    done: (_, { name }) => ({
      to: `/tanks/${tankId}`,
      notice: `${name} is added. Say on the racks where its flow goes.`,
    }),
    again: (form) => showNew(service, request, reply, form),
  });
}

const inCm = (mm: number | null) => (mm === null ? '' : mm / 10);

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const pump = await findPump(service.db, pathId(request, 'id', 'This pump'));
  const { name, facingDeg, runs, note, version, tank } = pump;
  const place = { leftMm: inCm(pump.leftMm), backMm: inCm(pump.backMm), depthMm: inCm(pump.depthMm) };
  const removed = pump.removedAt === null ? '' : 'yes';
  const typed = refused ?? freshForm({ name, ...place, facingDeg, runs, note, removed, version });
  const { form, theirs } = afterStale(typed, reply, { version }, `${name}${runs && `, ${runs}`}`);
  const action = `/farm/pumps/${pump.id}`;
  const data = { heading: name, tank, system: tank.system, pump, theirs, action };
  return showPage(service, request, reply, 'farm/pump', data, { title: name, form });
}

async function postEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This pump');
  return submit(request, reply, {
    schema: pumpEditSchema,
    act: (work, value) => editPump(work, id, value),
    done: ({ tank }, { name, removed }) => ({
      to: `/tanks/${tank.id}`,
      notice: removed ? `${name} is taken out.` : `${name} is changed.`,
    }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

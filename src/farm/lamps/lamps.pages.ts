import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { racksOfTank } from '../racks/racks.ts';
import { pastPlaces } from '../tanks/past-places.ts';
import { findTank } from '../tanks/tanks.ts';
import { lampEditSchema, lampSchema } from './lamps.schema.ts';
import { addLamp, editLamp, findLamp, lampFingerprint } from './lamps.ts';

/** Setting up lamps. */
export function lampPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/tanks/:id/lamps/new', (request, reply) => showNew(service, request, reply));
  app.post(
    '/farm/tanks/:id/lamps',
    takes(({ timeZone, now }) => lampSchema(timeZone, now)),
    (request, reply) => postNew(service, request, reply),
  );
  app.get('/farm/lamps/:id', (request, reply) => showEdit(service, request, reply));
  app.post('/farm/lamps/:id', takes(lampEditSchema), (request, reply) => postEdit(service, request, reply));
}

type TankRack = Awaited<ReturnType<typeof racksOfTank>>[number];

/** A checkbox for each rack of the tank; `other` names the lamps that light it now. */
function rackCheckboxes(racks: readonly TankRack[], lampId: string | null, chosen: readonly string[]) {
  return racks.map(({ id, name, lamp }) => ({
    id,
    name,
    checked: chosen.includes(id),
    other: lamp === null || lamp.id === lampId ? null : lamp.name,
  }));
}

const chosenRacks = (form: FormState) => [form.typed.racks ?? []].flat();

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const form = refused ?? freshForm({ name: '', percent: '', litHours: '', rampHours: '', since: '' });
  const inTank = await racksOfTank(service.db, tank.id);
  const unlit = inTank.filter((rack) => rack.lamp === null).map((rack) => rack.id);
  const racks = rackCheckboxes(inTank, null, refused === undefined ? unlit : chosenRacks(form));
  const action = `/farm/tanks/${tank.id}/lamps`;
  const data = {
    heading: 'New lamps',
    tank,
    system: tank.system,
    lamp: null,
    seen: '',
    racks,
    action,
    places: [],
    theirs: null,
  };
  return showPage(service, request, reply, 'farm/lamp', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tankId = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: lampSchema(request.site.timeZone, service.now()),
    act: (work, value) => addLamp(work, tankId, value),
    done: (_, { name }) => ({ to: '/farm', notice: `Added: ${name}.` }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const lamp = await findLamp(service.db, pathId(request, 'id', 'These lamps'));
  const lit = lamp.racks.map((rack) => rack.name).join(', ');
  const typed = refused ?? freshForm({ name: lamp.name });
  const { form, theirs } = afterStale(
    typed,
    reply,
    { seen: lampFingerprint(lamp) },
    `${lamp.name}, above ${lit || 'no rack'}`,
  );
  const chosen = refused === undefined ? lamp.racks.map((rack) => rack.id) : chosenRacks(form);
  const racks = rackCheckboxes(await racksOfTank(service.db, lamp.tankId), lamp.id, chosen);
  const seen = form.typed.seen ?? lampFingerprint(lamp);
  const { tank, system } = lamp;
  const places = await pastPlaces(service.pool, 'lamp', lamp);
  const data = {
    heading: lamp.name,
    tank,
    system,
    lamp,
    seen,
    racks,
    action: `/farm/lamps/${lamp.id}`,
    places,
    theirs,
  };
  return showPage(service, request, reply, 'farm/lamp', data, { title: lamp.name, form });
}

async function postEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'These lamps');
  return submit(request, reply, {
    schema: lampEditSchema,
    act: async (work, value) => void (await editLamp(work, id, value)),
    done: (_, { name }) => ({ to: '/farm', notice: `Saved: ${name}.` }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

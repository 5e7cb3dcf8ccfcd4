import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { isManager } from '../../platform/web/access.ts';
import { optionalText } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { circuitEditSchema, circuitSchema } from './circuits.schema.ts';
import { addCircuit, editCircuit, findCircuit } from './circuits.ts';
import { listEquipment } from './equipment.ts';
import { dueAgain } from './equipment.words.ts';
import { kinds, testedEveryDays } from './kinds.rules.ts';
import { listUpkeep, noteCircuitTest } from './upkeep.ts';

/** The circuits of the farm: what hangs on each, and what stands still if it fails. */
export function circuitPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/circuits/new', (request, reply) => showForm(service, request, reply));
  app.post('/farm/circuits', takes(circuitSchema), (request, reply) => postNew(service, request, reply));
  app.get('/farm/circuits/:id', (request, reply) => showOne(service, request, reply));
  app.get('/farm/circuits/:id/change', (request, reply) => showForm(service, request, reply));
  app.post('/farm/circuits/:id', takes(circuitEditSchema), (request, reply) =>
    postEdit(service, request, reply),
  );
  app.post('/farm/circuits/:id/test', takes(testBody), (request, reply) => postTest(service, request, reply));
}

const circuitId = (request: FastifyRequest) => pathId(request, 'id', 'This circuit');
const pathOf = (id: string) => `/farm/circuits/${id}`;

async function showOne(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const circuit = await findCircuit(service.db, circuitId(request));
  const [devices, tests] = await Promise.all([
    listEquipment(service.pool, request.site.id),
    listUpkeep(service.db, { circuitId: circuit.id }),
  ]);
  const hanging = devices.filter((device) => device.circuitId === circuit.id);
  const bySystem = [...Map.groupBy(hanging, ({ systemName }) => systemName)];
  const data = {
    circuit,
    isManager: isManager(request.person.role),
    testDue: dueAgain(circuit.testEveryDays, tests[0]?.at ?? null, circuit.createdAt),
    systems: bySystem.map(([name, some]) => ({
      name,
      devices: some.map(({ id, name, kind, tankName }) => ({ id, name, kind: kinds[kind].name, tankName })),
    })),
    still: bySystem.map(([name, some]) => `${name}: ${some.map((device) => device.name).join(', ')}`),
    alone: bySystem.flatMap(([name]) => flowLost(name, devices, circuit.id)),
    history: tests.map(({ id, at, note }) => ({
      at,
      what: 'Tested',
      note,
      href: `/farm/upkeep/${id}/removal`,
    })),
    path: pathOf(circuit.id),
  };
  const form = refused ?? freshForm({ note: '' });
  return showPage(service, request, reply, 'farm/circuit', data, { title: circuit.name, form });
}

/** A system whose every pump hangs on this circuit: it has no flow at all when the circuit fails. */
function flowLost(
  systemName: string,
  devices: Awaited<ReturnType<typeof listEquipment>>,
  circuitId: string,
): string[] {
  const moving = devices.filter(
    (device) =>
      device.systemName === systemName && ['return_pump', 'wave_pump', 'air_pump'].includes(device.kind),
  );
  return moving.length > 0 && moving.every((device) => device.circuitId === circuitId) ? [systemName] : [];
}

async function showForm(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { id } = request.params as { id?: string };
  const circuit = id === undefined ? null : await findCircuit(service.db, circuitId(request));
  const {
    name = '',
    place = '',
    protection = '',
    testEveryDays = circuit === null ? testedEveryDays : null,
    note = '',
    version = 0,
  } = circuit ?? {};
  const removed = circuit?.removedAt == null ? '' : 'yes';
  const typed = refused ?? freshForm({ name, place, protection, testEveryDays, note, removed, version });
  const { form, theirs } = afterStale(typed, reply, { version }, `${name}${place && `, ${place}`}`);
  const heading = circuit === null ? 'A new circuit' : circuit.name;
  const action = circuit === null ? '/farm/circuits' : pathOf(circuit.id);
  const data = { heading, circuit, theirs, action };
  return showPage(service, request, reply, 'farm/circuit-form', data, { title: heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: circuitSchema,
    act: (work, value) => addCircuit(work, request.site.id, value),
    done: ({ id }, { name }) => ({
      to: pathOf(id),
      notice: `${name} is added. Next, choose this circuit for each device on it.`,
    }),
    again: (form) => showForm(service, request, reply, form),
  });
}

async function postEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = circuitId(request);
  return submit(request, reply, {
    schema: circuitEditSchema,
    act: (work, value) => editCircuit(work, id, value),
    done: (_, { name, removed }) => ({
      to: removed ? '/farm/equipment' : pathOf(id),
      notice: removed ? `${name} is taken out.` : `${name} is changed.`,
    }),
    again: (form) => showForm(service, request, reply, form),
  });
}

const testBody = z.object({ note: optionalText(500) });

async function postTest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = circuitId(request);
  return submit(request, reply, {
    schema: testBody,
    act: (work, { note }) => noteCircuitTest(work, id, { note }),
    done: ({ name }) => ({ to: pathOf(id), notice: `${name} is tested.` }),
    again: (form) => showOne(service, request, reply, form),
  });
}

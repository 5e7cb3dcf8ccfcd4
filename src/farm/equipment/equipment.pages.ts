import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { EquipmentKind } from '../../generated/prisma/client.ts';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputLength, inputLitres, litresNoted } from '../../platform/units/measures.ts';
import { isManager } from '../../platform/web/access.ts';
import { backOf } from '../../platform/web/back.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { findOpenSystem, listOpenSystems } from '../systems/systems.ts';
import { pastPlaces } from '../tanks/past-places.ts';
import { listTanks } from '../tanks/tanks.ts';
import { listCircuits } from './circuits.ts';
import { noteLevel } from './containers.ts';
import {
  equipmentEditSchema,
  equipmentSchema,
  fillingSchema,
  seenSchema,
  upkeepSchema,
} from './equipment.schema.ts';
import {
  addEquipment,
  type Equipment,
  type EquipmentLine,
  editEquipment,
  equipmentOf,
  findEquipment,
  listEquipment,
  listStrengths,
  noteSeenRunning,
} from './equipment.ts';
import { deviceFacts, deviceRow } from './equipment.words.ts';
import { faultsOf } from './faults.ts';
import { addedKinds, kinds, testedEveryDays } from './kinds.rules.ts';
import type { LeftInDosers } from './reservoir.rules.ts';
import { listUpkeep, noteUpkeep } from './upkeep.ts';
import { worstCase } from './worst-case.rules.ts';

/** The equipment of the farm: read by everybody, set up by managers. */
export function equipmentPages(app: FastifyInstance, service: Service, leftInDosers: LeftInDosers): void {
  const page: OnePage = (request, reply, refused) => showOne(service, leftInDosers, request, reply, refused);
  app.get('/farm/equipment', (request, reply) => showList(service, leftInDosers, request, reply));
  app.get('/farm/equipment/new', (request, reply) => showNew(service, request, reply));
  app.post('/farm/equipment', takes(equipmentSchema), (request, reply) => postNew(service, request, reply));
  app.get('/farm/equipment/:id', (request, reply) => page(request, reply));
  app.get('/farm/equipment/:id/change', (request, reply) => showEdit(service, request, reply));
  app.post('/farm/equipment/:id', takes(equipmentEditSchema), (request, reply) =>
    postEdit(service, request, reply),
  );
  app.post('/farm/equipment/:id/running', takes(seenSchema), (request, reply) =>
    postRunning(page, request, reply),
  );
  app.post('/farm/equipment/:id/upkeep', takes(upkeepSchema), (request, reply) =>
    postUpkeep(page, request, reply),
  );
  app.post('/farm/equipment/:id/filling', takes(fillingSchema), (request, reply) =>
    postFilling(page, request, reply),
  );
}

/** Draws the page of one device, with a form that was refused. */
type OnePage = (request: FastifyRequest, reply: FastifyReply, refused?: FormState) => Promise<unknown>;

const pathOf = (id: string) => `/farm/equipment/${id}`;
const equipmentId = (request: FastifyRequest) => pathId(request, 'id', 'This equipment');

const dosersIn = (devices: readonly EquipmentLine[]) =>
  devices.filter(({ kind }) => kind === 'doser').map(({ id }) => id);

async function showList(
  service: Service,
  leftInDosers: LeftInDosers,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const { pool } = service;
  const [devices, circuits] = await Promise.all([
    listEquipment(pool, request.site.id),
    listCircuits(pool, request.site.id),
  ]);
  const dosers = await leftInDosers(pool, dosersIn(devices), service.now());
  const bySystem = Map.groupBy(devices, ({ systemId }) => systemId);
  const data = {
    systems: [...bySystem].map(([id, some]) => ({
      id,
      name: some[0]?.systemName,
      devices: some.map((device) => deviceRow(device, dosers, service.now())),
    })),
    circuits,
    noneButLamps: devices.every(({ kind }) => kind === 'lamp'),
  };
  return showPage(service, request, reply, 'farm/equipment', data, { title: 'Equipment' });
}

interface NewQuery {
  system?: string;
  kind?: string;
  tank?: string;
}

const blank = {
  name: '',
  tankId: '',
  circuitId: '',
  partOfId: '',
  leftMm: '',
  backMm: '',
  depthMm: '',
  facingDeg: '',
  runs: '',
  setpoint: '',
  setpointUnit: '',
  reservoirL: '',
  useLPerDay: '',
  holds: '',
  strengthCode: '',
  strength: '',
  serviceEveryDays: '',
  testEveryDays: '',
  note: '',
};

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const { system = '', kind = '', tank = '' } = request.query as NewQuery;
  const chosen = refused?.typed ?? { systemId: system, kind };
  const systems = await listOpenSystems(service.db, request.site.id);
  const known = addedKinds.find((one) => one === chosen.kind);
  const at = systems.find(({ id }) => id === chosen.systemId);
  if (known === undefined || at === undefined)
    return askKind(service, request, reply, { systems, system, tank });
  const setpointUnit = kinds[known].setpointUnit ?? '';
  const form =
    refused ??
    freshForm({
      ...{ ...blank, systemId: at.id, kind: known, tankId: tank, setpointUnit },
      testEveryDays: kinds[known].tested ? testedEveryDays : '',
    });
  const heading = `New: ${kinds[known].name.toLowerCase()}`;
  return showForm(service, request, reply, {
    form,
    heading,
    kind: known,
    systemId: at.id,
    device: null,
    theirs: null,
  });
}

function askKind(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  {
    systems,
    system,
    tank,
  }: { systems: readonly { id: string; name: string }[]; system: string; tank: string },
) {
  const data = {
    systems: systems.map(({ id, name }) => ({ value: id, text: name })),
    kinds: addedKinds.map((kind) => ({ value: kind, text: kinds[kind].name })),
    tank,
    system: system || (systems.length === 1 ? systems[0]?.id : ''),
  };
  return showPage(service, request, reply, 'farm/equipment-new', data, { title: 'New equipment' });
}

interface DeviceForm {
  form: FormState;
  heading: string;
  kind: EquipmentKind;
  systemId: string;
  device: Equipment | null;
  theirs: string | null;
}

async function showForm(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  { form, heading, kind, systemId, device, theirs }: DeviceForm,
) {
  const { db, pool } = service;
  const [system, tanks, circuits, others, quantities] = await Promise.all([
    findOpenSystem(db, systemId),
    listTanks(db, systemId),
    listCircuits(pool, request.site.id),
    equipmentOf(pool, [systemId]),
    listStrengths(db),
  ]);
  const option = ({ id, name }: { id: string; name: string }) => ({ value: id, text: name });
  const data = {
    heading,
    device,
    theirs,
    system,
    kind: kinds[kind],
    isLamp: kind === 'lamp',
    hasSetpoint: kinds[kind].setpointUnit !== undefined,
    tanks: tanks.map(option),
    circuits: circuits.map(option),
    topUps: others.filter((other) => other.kind === 'top_up' && other.id !== device?.id).map(option),
    quantities: quantities.map(({ code, name, canonicalUnit }) => ({
      value: code,
      text: `${name}, ${canonicalUnit}`,
    })),
    action: device === null ? '/farm/equipment' : pathOf(device.id),
  };
  return showPage(service, request, reply, 'farm/equipment-form', data, { title: heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: equipmentSchema,
    act: addEquipment,
    done: ({ id }, { name }) => ({ to: pathOf(id), notice: `${name} is on the list.` }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showOne(
  service: Service,
  leftInDosers: LeftInDosers,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { db, pool } = service;
  const id = equipmentId(request);
  const device = await findEquipment(db, id);
  const [[line], upkeep, faults, places] = await Promise.all([
    equipmentOf(pool, [device.systemId]).then((all) => all.filter((one) => one.id === id)),
    listUpkeep(db, { equipmentId: id }),
    faultsOf(db, id),
    pastPlaces(pool, 'equipment', device),
  ]);
  const data = {
    device,
    kind: kinds[device.kind],
    isDoser: device.kind === 'doser',
    isManager: isManager(request.person.role),
    off: line?.off ?? null,
    facts:
      line === undefined
        ? []
        : deviceFacts(line, await leftInDosers(pool, dosersIn([line]), service.now()), service.now()),
    worst: worstCase(device, device.system.volumeL),
    faults,
    places,
    history: upkeep.map(({ id: done, at, work, note }) => ({
      href: `/farm/upkeep/${done}/removal`,
      at,
      what: work === 'test' ? 'Tested' : 'Serviced',
      note,
    })),
    path: pathOf(id),
  };
  const form = refused ?? freshForm({ filledL: '', note: '' });
  return showPage(service, request, reply, 'farm/device', data, { title: device.name, form });
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const device = await findEquipment(service.db, equipmentId(request));
  const { name, version } = device;
  const place = {
    leftMm: inputLength(device.leftMm),
    backMm: inputLength(device.backMm),
    depthMm: inputLength(device.depthMm),
    reservoirL: inputLitres(device.reservoirL),
    useLPerDay: inputLitres(device.useLPerDay),
  };
  const values = Object.fromEntries(
    Object.keys(blank).map((key) => [key, device[key as keyof typeof blank]]),
  );
  const removed = device.removedAt === null ? '' : 'yes';
  const typed = refused ?? freshForm({ ...blank, ...values, ...place, removed, version });
  const { form, theirs } = afterStale(
    typed,
    reply,
    { version },
    `${name}, ${kinds[device.kind].name.toLowerCase()}`,
  );
  return showForm(service, request, reply, {
    form: { ...form, typed: { ...blank, ...form.typed } },
    heading: name,
    kind: device.kind,
    systemId: device.systemId,
    device,
    theirs,
  });
}

async function postEdit(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = equipmentId(request);
  return submit(request, reply, {
    schema: equipmentEditSchema,
    act: (work, value) => editEquipment(work, id, value),
    done: ({ name, removedAt }) => ({
      to: removedAt === null ? pathOf(id) : '/farm/equipment',
      notice: removedAt === null ? `${name} is changed.` : `${name} is taken out.`,
    }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

async function postRunning(page: OnePage, request: FastifyRequest, reply: FastifyReply) {
  const id = equipmentId(request);
  return submit(request, reply, {
    schema: seenSchema,
    act: (work) => noteSeenRunning(work, id),
    done: ({ name }) => ({ to: backOf(request) ?? pathOf(id), notice: `${name}: seen running just now.` }),
    again: (form) => page(request, reply, form),
  });
}

async function postUpkeep(page: OnePage, request: FastifyRequest, reply: FastifyReply) {
  const id = equipmentId(request);
  return submit(request, reply, {
    schema: upkeepSchema,
    act: (work, { work: kind, note }) => noteUpkeep(work, id, { kind, note }),
    done: ({ name }, { work }) => ({
      to: pathOf(id),
      notice: `${name} is ${work === 'test' ? 'tested' : 'serviced'}.`,
    }),
    again: (form) => page(request, reply, form),
  });
}

async function postFilling(page: OnePage, request: FastifyRequest, reply: FastifyReply) {
  const id = equipmentId(request);
  return submit(request, reply, {
    schema: fillingSchema,
    act: (work, { filledL }) => noteLevel(work, id, { seenL: null, afterL: filledL }),
    done: ({ name }, { filledL }) => ({
      to: pathOf(id),
      notice: `${name} holds ${litresNoted(filledL)} now.`,
    }),
    again: (form) => page(request, reply, form),
  });
}

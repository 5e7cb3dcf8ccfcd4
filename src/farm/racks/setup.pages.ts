import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputLength, lengthWords, sizeWords } from '../../platform/units/measures.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { asksSure } from '../tanks/concerns.ts';
import { findTank, listSiteTanks, listTanks, type Tank } from '../tanks/tanks.ts';
import { rackEditSchema, rackSchema } from './racks.schema.ts';
import {
  addRacks,
  editRack,
  findRack,
  isUsed,
  type LotsOnRack,
  listLampChoices,
  type Rack,
} from './racks.ts';
import { baseOptions } from './words.ts';

/** Setting up racks. */
export function rackSetupPages(app: FastifyInstance, service: Service, lotsOnRack: LotsOnRack): void {
  app.get('/farm/tanks/:id/racks/new', (request, reply) => showNew(service, request, reply));
  app.post('/farm/tanks/:id/racks', takes(rackSchema), (request, reply) => postNew(service, request, reply));
  app.get('/farm/racks/:id', (request, reply) => showEdit(service, request, reply));
  app.post('/farm/racks/:id', takes(rackEditSchema), (request, reply) =>
    postEdit(service, lotsOnRack, request, reply),
  );
}

const emptyForm = {
  name: '',
  count: 1,
  rows: 5,
  columns: 10,
  depthMm: '',
  slopeDeg: '',
  leftMm: '',
  backMm: '',
  slotWidthMm: '',
  slotDepthMm: '',
  base: 'egg_crate',
  lampId: '',
  note: '',
  sure: '',
};

/** Lamps to choose from: those above the tank first; those above other tanks of the system with the tank's name. */
async function lampOptions(service: Service, tank: Tank, wholeSystem: boolean) {
  const lamps = await listLampChoices(service.db, tank, wholeSystem);
  const [above, elsewhere] = [
    lamps.filter((lamp) => lamp.tank.id === tank.id),
    lamps.filter((lamp) => lamp.tank.id !== tank.id),
  ];
  return [
    ...above.map(({ id, name }) => ({ value: id, text: name })),
    ...elsewhere.map((lamp) => ({ value: lamp.id, text: `${lamp.name}, above ${lamp.tank.name}` })),
  ];
}

/** The tanks a rack can be moved to: those of its own system; any of the site while nothing was ever on it. */
async function tankOptions(service: Service, tank: Tank, rackId: string) {
  if (await isUsed(service.pool, rackId))
    return (await listTanks(service.db, tank.systemId)).map(({ id, name }) => ({ value: id, text: name }));
  const tanks = await listSiteTanks(service.db, tank.systemId);
  return tanks.map(({ id, name, system }) => ({ value: id, text: `${system.name}, ${name}` }));
}

const sizeOf = ({ lengthMm, widthMm }: Tank) => sizeWords(lengthMm, widthMm);

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const lamps = await lampOptions(service, tank, false);
  const lampId = lamps.length === 1 ? lamps[0]?.value : '';
  const form = refused ?? freshForm({ ...emptyForm, lampId });
  const action = `/farm/tanks/${tank.id}/racks`;
  const data = {
    heading: 'A new rack',
    tank,
    tankSize: sizeOf(tank),
    system: tank.system,
    rack: null,
    tanks: [],
    lamps,
    bases: baseOptions,
    action,
    theirs: null,
    asksSure: asksSure(form),
  };
  return showPage(service, request, reply, 'farm/rack', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tankId = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: rackSchema,
    act: (work, value) => addRacks(work, tankId, value),
    done: (added) => {
      const [first, last] = [added[0], added.at(-1)];
      return added.length === 1
        ? {
            to: `/racks/${first?.id}`,
            notice: `${first?.name} is added with its slots. Measure its light next, and say where the flow is.`,
          }
        : {
            to: `/farm/tanks/${tankId}`,
            notice: `${added.length} racks are added with their slots, ${first?.name} to ${last?.name}. Measure their light next, and say where the flow is.`,
          };
    },
    again: (form) => showNew(service, request, reply, form),
  });
}

function formValues({ name, rows, columns, base, lampId, note, version, tankId, ...rack }: Rack) {
  const place = {
    depthMm: inputLength(rack.depthMm),
    leftMm: inputLength(rack.leftMm),
    backMm: inputLength(rack.backMm),
  };
  const slot = { slotWidthMm: inputLength(rack.slotWidthMm), slotDepthMm: inputLength(rack.slotDepthMm) };
  const { slopeDeg } = rack;
  return {
    name,
    rows,
    columns,
    ...place,
    slopeDeg,
    ...slot,
    base,
    lampId,
    note,
    version,
    tankId,
    always: '',
  };
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const rack = await findRack(service.db, pathId(request, 'id', 'This rack'));
  const tank = await findTank(service.db, rack.tankId);
  const { name, rows, columns, depthMm, version, system } = rack;
  const typed = refused ?? freshForm(formValues(rack));
  const current = `${name}, ${rows} × ${columns} slots, ${lengthWords(depthMm)} deep in ${tank.name}, ${rack.lamp?.name ?? 'no lamps'}`;
  const { form, theirs } = afterStale(typed, reply, { version }, current);
  const [lamps, tanks] = await Promise.all([
    lampOptions(service, tank, true),
    tankOptions(service, tank, rack.id),
  ]);
  const data = {
    heading: name,
    tank,
    tankSize: sizeOf(tank),
    system,
    rack,
    tanks,
    lamps,
    bases: baseOptions,
    action: `/farm/racks/${rack.id}`,
    theirs,
    asksSure: asksSure(form),
  };
  return showPage(service, request, reply, 'farm/rack', data, { title: name, form });
}

async function postEdit(
  service: Service,
  lotsOnRack: LotsOnRack,
  request: FastifyRequest,
  reply: FastifyReply,
) {
  const id = pathId(request, 'id', 'This rack');
  return submit(request, reply, {
    schema: rackEditSchema,
    act: async (work, value) => void (await editRack(work, id, value, lotsOnRack)),
    done: (_, { name }) => ({ to: `/racks/${id}`, notice: `${name} is changed.` }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

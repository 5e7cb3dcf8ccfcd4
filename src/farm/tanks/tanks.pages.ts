import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { inputLength, sizeWords } from '../../platform/units/measures.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { findSystem } from '../systems/systems.ts';
import { asksSure } from './concerns.ts';
import { tankEditSchema, tankSchema } from './tanks.schema.ts';
import { addTank, editTank, findTank, type WaterOfTankChanges } from './tanks.ts';

/** Setting up tanks. */
export function tankPages(
  app: FastifyInstance,
  service: Service,
  waterOfTankChanges: WaterOfTankChanges,
): void {
  app.get('/farm/systems/:id/tanks/new', (request, reply) => showNew(service, request, reply));
  app.post('/farm/systems/:id/tanks', takes(tankSchema), (request, reply) =>
    postNew(service, request, reply),
  );
  app.get('/farm/tanks/:id', (request, reply) => showEdit(service, request, reply));
  app.post('/farm/tanks/:id', takes(tankEditSchema), (request, reply) =>
    postEdit(service, request, reply, waterOfTankChanges),
  );
}

const emptyForm = {
  name: '',
  lengthMm: '',
  widthMm: '',
  heightMm: '',
  quarantine: '',
  ownWater: '',
  note: '',
  sure: '',
};

async function showNew(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const system = await findSystem(service.db, pathId(request, 'id', 'This system'));
  const form = refused ?? freshForm(emptyForm);
  const data = {
    heading: 'A new tank',
    system,
    tank: null,
    theirs: null,
    asksSure: false,
    action: `/farm/systems/${system.id}/tanks`,
  };
  return showPage(service, request, reply, 'farm/tank', data, { title: data.heading, form });
}

async function postNew(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const systemId = pathId(request, 'id', 'This system');
  return submit(request, reply, {
    schema: tankSchema,
    act: (work, value) => addTank(work, systemId, value),
    done: (_, { name }) => ({ to: '/farm', notice: `${name} is added.` }),
    again: (form) => showNew(service, request, reply, form),
  });
}

async function showEdit(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const { name, lengthMm, widthMm, heightMm, ownWater, note, version } = tank;
  const quarantine = tank.quarantine ? 'yes' : '';
  const size = {
    lengthMm: inputLength(lengthMm),
    widthMm: inputLength(widthMm),
    heightMm: inputLength(heightMm),
  };
  const typed = refused ?? freshForm({ name, ...size, quarantine, ownWater, note, version, sure: '' });
  const current = `${name}, ${sizeWords(lengthMm, widthMm, heightMm)}${quarantine && ', quarantine'}${ownWater && `, own water: ${ownWater}`}${note && `, ${note}`}`;
  const { form, theirs } = afterStale(typed, reply, { version }, current);
  const data = {
    ...{ heading: name, system: tank.system, tank, theirs, action: `/farm/tanks/${tank.id}` },
    asksSure: asksSure(form),
  };
  return showPage(service, request, reply, 'farm/tank', data, { title: name, form });
}

async function postEdit(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  waterOfTankChanges: WaterOfTankChanges,
) {
  const id = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: tankEditSchema,
    act: async (work, value) => void (await editTank(work, id, value, waterOfTankChanges)),
    done: (_, { name }) => ({ to: '/farm', notice: `${name} is changed.` }),
    again: (form) => showEdit(service, request, reply, form),
  });
}

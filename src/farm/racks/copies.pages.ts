import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { asksSure } from '../tanks/concerns.ts';
import { findTank, listTanks } from '../tanks/tanks.ts';
import { rackCopiesSchema, tankCopiesSchema } from './copies.schema.ts';
import { nextNames } from './names.rules.ts';
import { copyRack } from './rack-copies.ts';
import { findRack, racksOfTank } from './racks.ts';
import { copyTank } from './tank-copies.ts';

/** Copies of racks and of tanks, with names that are proposed and can be changed. */
export function copyPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/racks/:id/copies', (request, reply) => showRackCopies(service, request, reply));
  app.post('/farm/racks/:id/copies', takes(rackCopiesSchema), (request, reply) =>
    postRackCopies(service, request, reply),
  );
  app.get('/farm/tanks/:id/copies', (request, reply) => showTankCopies(service, request, reply));
  app.post('/farm/tanks/:id/copies', takes(tankCopiesSchema), (request, reply) =>
    postTankCopies(service, request, reply),
  );
}

const usualCount = 3;

/** How many names the page proposes: as its address asks. */
const count = z.coerce.number().int().min(1).max(60).catch(usualCount);
const countOf = (request: FastifyRequest) => count.parse((request.query as { count?: unknown }).count);

async function showRackCopies(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const rack = await findRack(service.db, pathId(request, 'id', 'This rack'));
  const wanted = countOf(request);
  const taken = await racksOfTank(service.db, rack.tankId);
  const names = nextNames(
    rack.name,
    taken.map(({ name }) => name),
    wanted,
  );
  const tanks = (await listTanks(service.db, rack.system.id)).map(({ id, name }) => ({
    value: id,
    text: name,
  }));
  const data = {
    ...{
      heading: `Copies of ${rack.name}`,
      action: `/farm/racks/${rack.id}/copies`,
      count: wanted,
      tanks,
      ofTank: false,
      asksSure: refused !== undefined && asksSure(refused),
    },
    what: 'Rows, columns, size of a slot, depth, slope, base, flow of each slot, and within its tank the lamps. Not its lots, its light and its place: measure and enter those on each copy.',
    crumbs: [
      { href: `/farm/tanks/${rack.tank.id}`, text: rack.tank.name },
      { href: `/racks/${rack.id}`, text: rack.name },
    ],
  };
  const form =
    refused ?? freshForm({ names: names.join('\n'), tankId: rack.tankId, withRacks: '', sure: '' });
  return showPage(service, request, reply, 'farm/copies', data, { title: data.heading, form });
}

async function postRackCopies(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This rack');
  const { tankId } = await findRack(service.db, id);
  return submit(request, reply, {
    schema: rackCopiesSchema,
    act: (work, input) => copyRack(work, id, input),
    done: (copies, input) => ({
      to: `/farm/tanks/${input.tankId ?? tankId}`,
      notice: `${plural(copies.length, 'copy is', 'copies are')} made: ${copies.map(({ name }) => name).join(', ')}. Enter where each lies, and measure its light.`,
    }),
    again: (form) => showRackCopies(service, request, reply, form),
  });
}

async function showTankCopies(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const tank = await findTank(service.db, pathId(request, 'id', 'This tank'));
  const wanted = countOf(request);
  const taken = await listTanks(service.db, tank.systemId);
  const names = nextNames(
    tank.name,
    taken.map(({ name }) => name),
    wanted,
  );
  const data = {
    ...{
      heading: `Copies of ${tank.name}`,
      action: `/farm/tanks/${tank.id}/copies`,
      count: wanted,
      tanks: [],
      ofTank: true,
      asksSure: false,
    },
    what: `Its measures, in the water of ${tank.system.name}.`,
    crumbs: [{ href: `/farm/tanks/${tank.id}`, text: tank.name }],
  };
  const form = refused ?? freshForm({ names: names.join('\n'), withRacks: 'yes', tankId: '', sure: '' });
  return showPage(service, request, reply, 'farm/copies', data, { title: data.heading, form });
}

async function postTankCopies(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This tank');
  return submit(request, reply, {
    schema: tankCopiesSchema,
    act: (work, input) => copyTank(work, id, input),
    done: ({ tanks, racks }) => ({
      to: '/farm',
      notice: `${plural(tanks.length, 'copy is', 'copies are')} made: ${tanks.map(({ name }) => name).join(', ')}${racks === 0 ? '' : `, with ${plural(racks, 'rack', 'racks')}`}.`,
    }),
    again: (form) => showTankCopies(service, request, reply, form),
  });
}

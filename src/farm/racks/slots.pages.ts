import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { flowChoiceOf, stretchesOf } from './flow.rules.ts';
import { findRack, type Rack } from './racks.ts';
import { cellsOf, rowLetter, slotName } from './slots.rules.ts';
import { baseSchema, flowSchema } from './slots.schema.ts';
import { setBase, setFlow, slotsOfRack } from './slots.ts';
import { baseOptions, flowChoiceOptions } from './words.ts';

/** Flow and base of a rack's slots, each as a grid of selects. */
export function slotPages(app: FastifyInstance, service: Service): void {
  app.get('/racks/:id/flow', (request, reply) => showGrid('flow', service, request, reply));
  app.post(
    '/racks/:id/flow',
    takes(() => flowSchema([], { rows: 1, columns: 1 })),
    (request, reply) => postFlow(service, request, reply),
  );
  app.get('/racks/:id/base', (request, reply) => showGrid('base', service, request, reply));
  app.post(
    '/racks/:id/base',
    takes(() => baseSchema([], { rows: 1, columns: 1 })),
    (request, reply) => postBase(service, request, reply),
  );
}

type Property = 'flow' | 'base';

const pageWords = {
  flow: {
    heading: 'Flow on',
    lead: 'How water moves at each slot as you see it on the animals. A jet strikes one slot directly and steadily.',
    legend: 'Flow at each slot',
    options: flowChoiceOptions,
  },
  base: {
    heading: 'What pieces sit on, on',
    lead: 'Pieces on sand take silt sooner, and some kinds want nothing else.',
    legend: 'Base of each slot',
    options: baseOptions,
  },
};

const rackOf = (service: Service, request: FastifyRequest) =>
  findRack(service.db, pathId(request, 'id', 'This rack'));

async function currentValues(service: Service, rack: Rack, property: Property) {
  const slots = await slotsOfRack(service.db, rack);
  return slots.map((slot) => [slotName(slot), property === 'flow' ? flowChoiceOf(slot) : slot.base] as const);
}

async function showGrid(
  property: Property,
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const rack = await rackOf(service, request);
  const values = Object.fromEntries(await currentValues(service, rack, property));
  const { version } = rack;
  const { form, theirs } = afterStale(
    refused ?? freshForm({ ...values, version, stretch: '', stretchValue: '' }),
    reply,
    { version },
    'the rack as its page shows it',
  );
  const { heading, ...words } = pageWords[property];
  const picked = new Set([form.typed.picked ?? []].flat());
  const cells = cellsOf(rack.rows, rack.columns).map(slotName);
  const grid = Array.from({ length: rack.rows }, (_, i) => ({
    letter: rowLetter(i + 1),
    cells: cells.slice(i * rack.columns, (i + 1) * rack.columns).map((name) => {
      const value = form.typed[name] ?? values[name] ?? '';
      const text = words.options.find((option) => option.value === value)?.text ?? '';
      return { name, value, text, picked: picked.has(name) };
    }),
  }));
  const columns = Array.from({ length: rack.columns }, (_, i) => i + 1);
  const title = `${heading} ${rack.name}`;
  const data = { rack, property, title, ...words, grid, columns, stretches: stretchesOf(rack), theirs };
  return showPage(service, request, reply, 'racks/grid', data, {
    title,
    area: 'racks',
    form,
    scripts: ['/assets/slots.js'],
  });
}

async function postFlow(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  return submit(request, reply, {
    schema: flowSchema(await slotsOfRack(service.db, rack), rack),
    act: (work, value) => setFlow(work, rack.id, value),
    done: () => ({ to: `/racks/${rack.id}?view=flow`, notice: 'The flow is noted.' }),
    again: (form) => showGrid('flow', service, request, reply, form),
  });
}

async function postBase(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  return submit(request, reply, {
    schema: baseSchema(await slotsOfRack(service.db, rack), rack),
    act: (work, value) => setBase(work, rack.id, value),
    done: () => ({ to: `/racks/${rack.id}?view=flow`, notice: 'What the pieces sit on is noted.' }),
    again: (form) => showGrid('base', service, request, reply, form),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import { seenOf } from '../../platform/seen.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listQuantities } from '../quantities/quantities.ts';
import { findOpenWaterSystem } from '../systems/systems.ts';
import {
  formOrderOf,
  formOrderSchema,
  inFormOrder,
  orderField,
  orderStanding,
  setFormOrder,
} from './form-order.ts';

/** The order in which one system's quantities are tested: that of the rows of its readings form. */
export function formOrderPages(app: FastifyInstance, service: Service): void {
  app.get('/water/systems/:id/bench-order', (request, reply) => showOrder(service, request, reply));
  app.post(
    '/water/systems/:id/bench-order',
    takes(() => formOrderSchema(['alkalinity'])),
    (request, reply) => postOrder(service, request, reply),
  );
}

async function showOrder(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const { id, name } = await findOpenWaterSystem(service.db, pathId(request, 'id', 'This system'));
  const [quantities, order] = await Promise.all([listQuantities(service.db), formOrderOf(service.db, id)]);
  const form = refused ?? freshForm();
  const rows = inFormOrder(quantities, order).map((quantity) => {
    const field = orderField(quantity.code);
    const place = order.indexOf(quantity.code);
    return {
      name: quantity.name,
      field,
      value: form.typed[field] ?? (place < 0 ? '' : String(place + 1)),
      error: form.errors.find((error) => error.field === field)?.message ?? null,
    };
  });
  const named = order.map((code) => quantities.find((quantity) => quantity.code === code)?.name ?? code);
  const theirs = reply.statusCode === 409 ? named.join(', ') || 'no order of its own' : '';
  const title = `Order of tests: ${name}`;
  return showPage(
    service,
    request,
    reply,
    'water/form-order',
    { system: { id, name }, rows, theirs, seen: seenOf(order) },
    { title, area: 'water', form },
  );
}

async function postOrder(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This system');
  const codes = (await listQuantities(service.db)).map((quantity) => quantity.code);
  return submit(request, reply, {
    schema: formOrderSchema(codes),
    over: orderStanding(id),
    act: (work, order) => setFormOrder(work, id, order),
    done: () => ({ to: `/water/systems/${id}/readings/new`, notice: 'The rows are in the new order.' }),
    again: (form) => showOrder(service, request, reply, form),
  });
}

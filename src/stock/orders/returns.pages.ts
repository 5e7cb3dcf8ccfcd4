import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { plural } from '../../platform/words/numbers.ts';
import { pestInWords } from '../pests/pests.rules.ts';
import { returnSchema } from './orders.schema.ts';
import { type QuarantineRack, quarantineRacks, returnOrder } from './returns.ts';
import { orderState } from './state.ts';
import { againOf, lineView, orderHref } from './view.ts';

/** Taking back what a buyer returned. */
export function returnPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/orders/:id/return', (request, reply) => showReturn(service, request, reply));
  app.post(
    '/stock/orders/:id/return',
    takes(() => returnSchema(['ID-OF-LINE'])),
    (request, reply) => postReturn(service, request, reply),
  );
}

/** Whether pieces can go there without coming into water with an open alert, under watch for a pest or making the quarantine of others longer. */
const isPlain = ({ pests, runs, troubles }: QuarantineRack): boolean =>
  pests.length === 0 && troubles.length === 0 && !runs;

const rackWords = ({ name, free, pests, runs, troubles }: QuarantineRack): string =>
  [
    `${name}, ${plural(free, 'slot', 'slots')} free`,
    ...(pests.length === 0 ? [] : [`under watch for ${pests.map(pestInWords).join(' and ')}`]),
    ...troubles.map((title) => `an alert is open on its water: ${title}`),
    ...(runs ? ['the days of quarantine begin again for all lots there'] : []),
  ].join('; ');

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This order');

async function showReturn(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const order = await orderState(service.pool, idOf(request));
  const racks = await quarantineRacks(service.pool, request.site.id);
  const none = Object.fromEntries(
    order.lines.flatMap(({ id }) => [
      [`back_${id}`, 0],
      [`off_${id}`, 0],
    ]),
  );
  const form =
    againOf(refused, reply, order) ??
    freshForm({ ...none, rack: racks.find(isPlain)?.id ?? '', reason: '', version: order.version });
  const data = {
    order,
    racks: racks.map((rack) => ({ value: rack.id, text: rackWords(rack) })),
    lines: order.lines.map((line) => ({
      ...lineView(line, order),
      back: { name: `back_${line.id}`, typed: form.typed[`back_${line.id}`] },
      off: { name: `off_${line.id}`, typed: form.typed[`off_${line.id}`] },
    })),
  };
  const title = `What came back of order ${order.number}`;
  return showPage(service, request, reply, 'stock/order-return', data, { title, area: 'stock', form });
}

async function postReturn(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  const { lines } = await orderState(service.pool, id);
  return submit(request, reply, {
    schema: returnSchema(lines.map((line) => line.id)),
    act: (work, value) => returnOrder(work, id, { ...value, timeZone: request.site.timeZone }),
    done: ({ codes }) => ({
      to: orderHref(id),
      notice:
        codes.length === 0
          ? 'Written off. Nothing came back to the farm.'
          : `Came back, and kept apart: ${codes.join(', ')}.`,
    }),
    again: (form) => showReturn(service, request, reply, form),
  });
}

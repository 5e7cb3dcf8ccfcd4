import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { pathId } from '../../platform/web/requests.ts';
import { type OrderState, orderState } from '../orders/state.ts';
import { storedPermit, storedShipment } from '../shipping/stored.ts';
import { packingListOf, printPaper, receiptOf } from './papers.ts';
import type { Paper } from './papers-pdf.ts';

/** The papers of an order as PDF. */
export function paperPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/orders/:id/receipt.pdf', async (request, reply) => {
    const order = await orderOf(service, request);
    return send(reply, `receipt ${order.number}`, receiptOf(order, paperOf(order, request)));
  });
  app.get('/stock/orders/:id/packing-list.pdf', async (request, reply) => {
    const order = await orderOf(service, request);
    const box = await storedShipment(service.pool, order.id);
    const permit = await storedPermit(service.pool, order.id);
    const paper = packingListOf(order, paperOf(order, request), { box, permit });
    return send(reply, `packing list ${order.number}`, paper);
  });
}

const orderOf = (service: Service, request: FastifyRequest): Promise<OrderState> =>
  orderState(service.pool, pathId(request, 'id', 'This order'));

/** A paper is of the day on which the order left; before that of the day it was taken. */
function paperOf({ stages, createdAt }: OrderState, { site }: FastifyRequest) {
  const gone = stages.find(({ stage, from }) => stage === 'gone' && from !== 'settled');
  return { farm: site.name, at: gone?.at ?? createdAt, timeZone: site.timeZone };
}

async function send(reply: FastifyReply, name: string, paper: Paper) {
  return reply
    .type('application/pdf')
    .header('content-disposition', `inline; filename="${name}.pdf"`)
    .send(await printPaper(paper));
}

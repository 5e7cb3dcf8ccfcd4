import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Service } from '../../platform/service.ts';
import { optionalText, tick } from '../../platform/web/fields.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { confirmReach, publicAddress } from '../../platform/web/public-address.ts';
import { pathId } from '../../platform/web/requests.ts';
import { orderState } from '../../stock/orders/state.ts';
import { gateRefusals } from '../../stock/pests/gate.ts';
import { openAlertsOf } from '../record/facts.ts';
import { tagOrder } from './order-tags.ts';

/** Tags of an order in one go. */
export function orderTagPages(app: FastifyInstance, service: Service): void {
  app.get('/tags/orders/:id', (request, reply) => show(service, request, reply));
  app.post('/tags/orders/:id', (request, reply) => post(service, request, reply));
}

const idOf = (request: FastifyRequest) => pathId(request, 'id', 'This order');
const schema = z.object({ reason: optionalText(500), hidePhoto: tick(), hereAlone: tick() });

async function show(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const order = await orderState(service.pool, idOf(request));
  const ids = order.lines.map(({ lotId }) => lotId);
  const alerts = await openAlertsOf(service.pool, ids);
  const lots = order.lines.map(({ lotId, code }) => ({ id: lotId, code }));
  const gate = await gateRefusals(service.pool, lots, 'tag', '');
  const data = {
    order,
    lines: order.lines.map((line) => ({
      ...line,
      alert: alerts.get(line.lotId) ?? '',
      water: gate.get(line.lotId) ?? '',
    })),
    reach: publicAddress(service.config, request),
  };
  const form = refused ?? freshForm({ reason: '', hidePhoto: '', hereAlone: '' });
  const title = `Tags of order ${order.number}`;
  return showPage(service, request, reply, 'tags/order', data, { title, area: 'tags', form });
}

async function post(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = idOf(request);
  return submit(request, reply, {
    schema,
    act: (work, { hereAlone, ...chosen }) => {
      confirmReach(publicAddress(service.config, request), hereAlone);
      return tagOrder(service, work, id, chosen);
    },
    done: (ids) => ({
      to: `/tags/labels?${ids.map((tag) => `tag=${tag}`).join('&')}`,
      notice: 'Its pieces are tagged. Print the labels.',
    }),
    again: (form) => show(service, request, reply, form),
  });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { findRack } from '../../farm/racks/racks.ts';
import { notFound, Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { unitsNow } from '../../platform/units/units.ts';
import { freshForm, refusedForm } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { pathId } from '../../platform/web/requests.ts';
import { CARD, cardOf, LEAST_RACK_DEPTH } from '../../science/photograph/card.ts';
import { usualPage } from '../labels/label-sheets.rules.ts';
import { printedBase } from '../labels/labels.pages.ts';
import { printCards } from './printing.ts';

/** The four corner cards of a rack: how to fix them, as a PDF, and where their codes lead. Nothing is written down. */
export function rackCardPages(app: FastifyInstance, service: Service): void {
  app.get('/racks/:id/cards', (request, reply) => showCards(service, request, reply));
  app.get('/racks/:id/cards.pdf', (request, reply) => sendCards(service, request, reply));
  app.get('/C/:card/:corner', (request, reply) => openRack(request, reply));
}

const rackOf = (service: Service, request: FastifyRequest) =>
  findRack(service.db, pathId(request, 'id', 'This rack'));

async function showCards(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  form = freshForm({ hereAlone: '' }),
) {
  const rack = await rackOf(service, request);
  const deep = rack.slotDepthMm === null ? null : rack.rows * rack.slotDepthMm;
  const data = {
    ...{ rack, reach: publicAddress(service.config, request) },
    ...{ cardWidth: CARD.width, cardDepth: CARD.height, leastDepth: LEAST_RACK_DEPTH },
    tooNarrow: deep !== null && deep < LEAST_RACK_DEPTH,
  };
  return showPage(service, request, reply, 'tags/rack-cards', data, {
    title: `Corner cards of ${rack.name}`,
    area: 'racks',
    form,
  });
}

async function sendCards(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const rack = await rackOf(service, request);
  try {
    const asked = request.query as { hereAlone?: unknown };
    const file = await printCards({
      rackId: rack.id,
      name: rack.name,
      where: `${rack.tank.name}, ${rack.system.name}`,
      base: printedBase(service, request, asked.hereAlone !== undefined),
      page: usualPage(unitsNow().length),
    });
    return reply
      .type('application/pdf')
      .header('content-disposition', 'inline; filename="corner-cards.pdf"')
      .send(file);
  } catch (error) {
    if (!(error instanceof Refusal) || error.status === 404) throw error;
    reply.status(error.status);
    return showCards(service, request, reply, refusedForm(request.query, error.fields));
  }
}

/** What a card's code opens: its rack. */
function openRack(request: FastifyRequest, reply: FastifyReply) {
  const { card, corner } = request.params as { card: string; corner: string };
  const read = cardOf(`/C/${card}/${corner}`);
  if (read === null) throw notFound('This card');
  return reply.redirect(`/racks/${read.rackId}`, 303);
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { spokenCode } from '../base/codes.ts';
import { findLot } from '../lots/lots.ts';
import { isPlaced } from '../places/placements.ts';

/** The code of a lot, large, to be copied onto its label: shown when a lot was taken in, cut or split off. */
export function cardPages(app: FastifyInstance, service: Service): void {
  app.get('/stock/:code/card', (request, reply) => showCard(service, request, reply));
}

async function showCard(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const lot = await findLot(service.db, (request.params as { code: string }).code, request.site.id);
  const { code, kind, pieces, parent, cutInto } = lot;
  const from = parent === null ? '' : `${cutInto === null ? 'Split off' : 'Cut from'} ${parent.code}`;
  const data = {
    code,
    spoken: spokenCode(code),
    kind: kind.name,
    pieces,
    from,
    placed: await isPlaced(service.db, lot.id),
  };
  return showPage(service, request, reply, 'stock/card', data, { title: `Code ${code}`, area: 'stock' });
}

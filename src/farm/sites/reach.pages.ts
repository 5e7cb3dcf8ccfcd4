import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { qrCode } from '../../platform/charts/qr.ts';
import type { Service } from '../../platform/service.ts';
import { showPage } from '../../platform/web/pages.ts';
import { publicAddress } from '../../platform/web/public-address.ts';
import { tabletReach } from '../../platform/words/addresses.ts';

/** How tablets, phones and buyers reach the service. */
export function reachPages(app: FastifyInstance, service: Service): void {
  app.get('/farm/reach', (request, reply) => showReach(service, request, reply));
}

async function showReach(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { protocol, socket } = request;
  const { open, words } = tabletReach(service.config, { protocol, port: socket.localPort ?? 8080 });
  const data = {
    words,
    codes: open.map((address) => ({ address, qr: qrCode(address) })),
    printed: publicAddress(service.config, request),
    isSecure: protocol === 'https',
  };
  return showPage(service, request, reply, 'farm/reach', data, { title: 'How tablets reach it' });
}

import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { notFound } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { showPage } from '../platform/web/pages.ts';
import { findDigest, type KeptDigest, listDigests } from './digests.ts';
import { digestText, digestView } from './text.ts';

/** The manager's page of a morning, and the earlier ones. */
export function digestPages(app: FastifyInstance, service: Service): void {
  app.get('/digest', (request, reply) => showNewest(service, request, reply));
  app.get('/digest/:day', (request, reply) => showDay(service, request, reply));
  app.get('/digest/:day/text', (request, reply) => sendText(service, request, reply));
  app.get('/api/digests/:day', async (request, reply) =>
    reply.send((await digestOf(service, request)).content),
  );
}

function digestOf(service: Service, request: FastifyRequest): Promise<KeptDigest> {
  const { day } = request.params as { day: string };
  if (!z.iso.date().safeParse(day).success) throw notFound('A digest of this day');
  return findDigest(service, request.site.id, day);
}

async function show(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  digest: KeptDigest | null,
) {
  const earlier = (await listDigests(service, request.site.id)).filter((one) => one.day !== digest?.day);
  const shown = digest === null ? null : { digest, ...digestView(digest) };
  const data = { shown, earlier: earlier.map(({ day, content }) => ({ day, headline: content.headline })) };
  return showPage(service, request, reply, 'digest/digest', data, { title: 'Digest', area: 'digest' });
}

async function showNewest(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [newest = null] = await listDigests(service, request.site.id, 1);
  return show(service, request, reply, newest);
}

async function showDay(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return show(service, request, reply, await digestOf(service, request));
}

async function sendText(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const digest = await digestOf(service, request);
  return reply.type('text/plain; charset=utf-8').send(digestText(service, request.site, digest));
}

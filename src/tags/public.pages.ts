import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { notFound } from '../platform/refusal.ts';
import type { Service } from '../platform/service.ts';
import { showPage } from '../platform/web/pages.ts';
import { buyersPlan, type Plan, places, waterWarnings } from './plan.rules.ts';
import { publicKey } from './signing.ts';
import { type BuyerAnswers, buyerSchema } from './tags.schema.ts';
import { readTag } from './tags.ts';
import { nameWords, planLines, recordFacts } from './words.ts';

/** What the buyer's phone opens: signed out, without cookies, nothing about the farm beyond the tag. */
export function publicTagPages(app: FastifyInstance, service: Service): void {
  const open = { config: { access: 'public' as const } };
  app.get('/t/:token', open, (request, reply) => showPublicTag(service, request, reply));
  app.get('/t/:token/record', open, (request, reply) => sendRecord(service, request, reply));
  app.get('/t/key', open, async (_, reply) => reply.send({ keys: [await publicKey(service.db)] }));
}

const usualHours = 10;

function tokenOf(request: FastifyRequest): string {
  const { token = '' } = request.params as { token?: string };
  if (!/^[\w-]{22}$/.test(token)) throw notFound('This tag');
  return token;
}

function planFor(record: Parameters<typeof buyersPlan>[0], answers: BuyerAnswers): Plan | null {
  const par = answers.par ?? places.find((place) => place.value === answers.place)?.par;
  return par === undefined ? null : buyersPlan(record, { par, hours: answers.hours ?? usualHours });
}

/** The form's fields as the buyer left them. */
function asked(answers: BuyerAnswers) {
  const text = (value: number | undefined) => (value === undefined ? '' : String(value));
  return {
    place: answers.place ?? '',
    par: text(answers.par),
    hours: text(answers.hours),
    alkalinity: text(answers.alkalinity),
    salinity: text(answers.salinity),
    temperature: text(answers.temperature),
  };
}

async function showPublicTag(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tag = await readTag(service, { token: tokenOf(request) });
  const answers = buyerSchema.parse(request.query);
  const plan = planFor(tag.record, answers);
  const { alkalinity, salinity, temperature } = answers;
  const data = {
    tag,
    ...nameWords(tag.record),
    rows: recordFacts(tag.record),
    answers: asked(answers),
    places,
    plan,
    lines: plan === null ? [] : planLines(plan),
    warnings: waterWarnings(tag.record, { alkalinityDkh: alkalinity, salinity, temperature }),
    linkedData: linkedData(tag.record, nameWords(tag.record).name),
  };
  return showPage(service, request, reply, 'tags/public', data, {
    title: `What ${tag.record.lot} lived in`,
    layout: 'public',
  });
}

/** The piece in schema.org's words. */
function linkedData(record: { lot: string; site: string; kind: string }, name: string) {
  return {
    '@context': 'https://schema.org',
    '@type': 'Product',
    name,
    sku: record.lot,
    category: record.kind,
    brand: { '@type': 'Organization', name: record.site },
  };
}

/** The signed record itself, for whoever wants to check it: a JWS whose key is at /t/key. */
async function sendRecord(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const tag = await service.db.tag.findUnique({ where: { token: tokenOf(request) } });
  if (tag === null) throw notFound('This tag');
  return reply.type('application/jose').send(tag.signature);
}

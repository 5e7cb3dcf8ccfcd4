import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { asks } from '../../platform/door/takes.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { choice, optionalText } from '../../platform/web/fields.ts';
import { freshForm, refusedForm } from '../../platform/web/forms.ts';
import { contentPolicy } from '../../platform/web/guards.ts';
import { showPage } from '../../platform/web/pages.ts';
import { lotHref } from '../../stock/base/lot-href.ts';
import { tickBar, ticksOf, withTicks } from '../../stock/base/ticks.ts';
import { tickedLots } from '../../stock/lots/ticked-lots.ts';
import { findScanned } from './scan.ts';

/** Reading codes with the tablet's camera, from a photo, or typed by hand: opens what they mean, or ticks lots. */
export function scanPages(app: FastifyInstance, service: Service): void {
  // The reader of codes is WebAssembly: this page alone may run it.
  const directives = { ...contentPolicy, scriptSrc: ["'self'", "'wasm-unsafe-eval'"] };
  const helmet = { contentSecurityPolicy: { directives } };
  app.get('/scan', { helmet }, (request, reply) => showScan(service, request, reply));
  app.get('/api/scan', asks(scanSchema, scanAnswer), (request) => getScan(service, request));
}

const scanAnswer = z.object({
  href: z.string(),
  lot: z.string().nullable().describe('The code of a lot, where it names one.'),
  words: z.string(),
});

const scanSchema = z.object({
  read: optionalText(500).catch(''),
  mode: choice(['open', 'tick'], '').catch('open'),
});

/** Under which addresses the service is reached: as it was asked, and as it is set. */
function originsOf({ config }: Service, request: FastifyRequest): string[] {
  const all = [`${request.protocol}://${request.host}`, config.PUBLIC_URL];
  return all.flatMap((one) => (one !== undefined && URL.canParse(one) ? [new URL(one).origin] : []));
}

async function getScan(service: Service, request: FastifyRequest) {
  const { read } = scanSchema.parse(request.query);
  return findScanned(service, request.site.id, originsOf(service, request), read);
}

async function showScan(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const { read, mode } = scanSchema.parse(request.query);
  const codes = ticksOf(request.query);
  try {
    if (read === '') return await draw(service, request, reply, mode, codes);
    const found = await findScanned(service, request.site.id, originsOf(service, request), read);
    if (mode === 'open') return reply.redirect(found.href, 303);
    if (found.lot === null)
      throw new Refusal(`${found.words} is not a lot. Scan a lot, its slot or its tag to tick it.`, {
        field: 'read',
      });
    return await draw(service, request, reply, mode, [...new Set([...codes, found.lot])]);
  } catch (error) {
    if (!(error instanceof Refusal)) throw error;
    reply.status(error.status);
    return draw(service, request, reply, mode, codes, error.fields);
  }
}

async function draw(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  mode: 'open' | 'tick',
  codes: readonly string[],
  errors: { field: string; message: string }[] = [],
) {
  const lots = await tickedLots(service.pool, request.site.id, codes);
  const addressOf = (one: string) => withTicks(`/scan?mode=${one}`, codes);
  const data = {
    mode,
    isTick: mode === 'tick',
    modes: [
      { text: 'Open', href: addressOf('open'), current: mode === 'open' },
      { text: 'Tick lots', href: addressOf('tick'), current: mode === 'tick' },
    ],
    lots: lots.map((lot) => ({ ...lot, href: lotHref(lot.code) })),
    ticks: tickBar(
      codes,
      lots.map(({ code }) => code),
      '/scan?mode=tick',
    ),
  };
  const form = errors.length === 0 ? freshForm({ read: '' }) : refusedForm(request.query, errors);
  const scripts = ['/assets/scan.js', '/assets/ticking.js'];
  return showPage(service, request, reply, 'tags/scan', data, {
    title: 'Scan',
    area: 'stock',
    scripts,
    form,
  });
}

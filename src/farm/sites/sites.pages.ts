import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { takes } from '../../platform/door/takes.ts';
import type { Service } from '../../platform/service.ts';
import { unitOptions } from '../../platform/units/units.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { afterStale } from '../../platform/web/stale-edit.ts';
import { listCurrencies } from '../../platform/words/money.ts';
import { farmOutline, nextStep } from './outline.ts';
import { siteSchema } from './sites.schema.ts';
import { editSite, findSite } from './sites.ts';

/** The page of the whole farm, and the form of the site. */
export function sitePages(app: FastifyInstance, service: Service): void {
  app.get('/farm', (request, reply) => showFarm(service, request, reply));
  app.get('/farm/site', (request, reply) => showSite(service, request, reply));
  app.post('/farm/site', takes(siteSchema), (request, reply) => postSite(service, request, reply));
}

async function showFarm(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const [site, systems] = await Promise.all([
    findSite(service.db, request.site.id),
    farmOutline(service.db, request.site.id),
  ]);
  const facts = [
    { label: 'Time zone', text: site.timeZone },
    { label: 'Morning digest', text: site.digestAt },
    { label: 'Prices in', text: site.currency ?? 'no currency chosen' },
  ];
  const data = { site, facts, systems, next: nextStep(systems) };
  return showPage(service, request, reply, 'farm/farm', data, { title: 'Farm' });
}

async function showSite(service: Service, request: FastifyRequest, reply: FastifyReply, refused?: FormState) {
  const site = await findSite(service.db, request.site.id);
  const { name, timeZone, digestAt, currency, volumeUnit, lengthUnit, massUnit, version } = site;
  const typed =
    refused ??
    freshForm({
      ...{ name, timeZone, digestAt, currency: currency ?? '' },
      ...{ volumeUnit, lengthUnit, massUnit, version },
      probeValueDays: site.probeValueDays ?? '',
    });
  const { form, theirs } = afterStale(
    typed,
    reply,
    { version },
    `${name}, ${timeZone}, digest at ${digestAt}${currency === null ? '' : `, prices in ${currency}`}`,
  );
  const zones = ['UTC', ...Intl.supportedValuesOf('timeZone')];
  return showPage(
    service,
    request,
    reply,
    'farm/site',
    {
      zones,
      theirs,
      currencies: listCurrencies(),
      units: { volume: unitOptions('volume'), length: unitOptions('length'), mass: unitOptions('mass') },
    },
    { title: 'The site', form },
  );
}

async function postSite(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: siteSchema,
    act: (work, value) => editSite(work, request.site.id, value),
    done: (_, { name }) => ({ to: '/farm', notice: `${name} is changed.` }),
    again: (form) => showSite(service, request, reply, form),
  });
}

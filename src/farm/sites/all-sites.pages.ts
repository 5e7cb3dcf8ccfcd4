import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { tieToSites } from '../../people/memberships.ts';
import { takes } from '../../platform/door/takes.ts';
import { notFound } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { type FormState, freshForm, submit } from '../../platform/web/forms.ts';
import { showPage } from '../../platform/web/pages.ts';
import { pathId } from '../../platform/web/requests.ts';
import { listCurrencies } from '../../platform/words/money.ts';
import { newSiteSchema } from './sites.schema.ts';
import { addSite, listSites, sitesOf } from './sites.ts';

/** The sites of a farm: going to another, and adding one. */
export function allSitesPages(app: FastifyInstance, service: Service): void {
  app.get('/sites', (request, reply) => showSites(service, request, reply));
  app.post('/sites', takes(newSiteSchema), (request, reply) => postSite(service, request, reply));
  app.post('/sites/:id/look', (request, reply) => goToSite(service, request, reply));
}

async function showSites(
  service: Service,
  request: FastifyRequest,
  reply: FastifyReply,
  refused?: FormState,
) {
  const sites = await sitesOf(service.pool, request.person.id);
  const form = refused ?? freshForm({ name: '', timeZone: request.site.timeZone, currency: '' });
  const data = {
    sites: sites.map((site) => ({ ...site, isHere: site.id === request.site.id })),
    zones: ['UTC', ...Intl.supportedValuesOf('timeZone')],
    currencies: listCurrencies(),
  };
  return showPage(service, request, reply, 'farm/sites', data, { title: 'Sites', form });
}

async function postSite(service: Service, request: FastifyRequest, reply: FastifyReply) {
  return submit(request, reply, {
    schema: newSiteSchema,
    act: async (work, site) => {
      const before = await listSites(work.tx);
      await tieToSites(
        work,
        before.map(({ id }) => id),
      );
      return addSite(work, site);
    },
    done: (id, { name }) => {
      request.session.set('siteId', id);
      return {
        to: '/farm',
        notice: `${name} is added, and you are there now. Only owners are; People says who else belongs to it.`,
      };
    },
    again: (form) => showSites(service, request, reply, form),
  });
}

/** From now on the pages are about another site of those the person belongs to. */
async function goToSite(service: Service, request: FastifyRequest, reply: FastifyReply) {
  const id = pathId(request, 'id', 'This site');
  const site = (await sitesOf(service.pool, request.person.id)).find((one) => one.id === id);
  if (site === undefined) throw notFound('This site');
  request.session.set('siteId', id);
  request.session.set('notice', `You are at ${site.name} now.`);
  return reply.redirect('/', 303);
}

import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { type ManagedSite, managedSites } from '../../farm/sites/sites.ts';
import { Refusal } from '../../platform/refusal.ts';
import type { Service } from '../../platform/service.ts';
import { chosen, text } from '../../platform/web/fields.ts';
import { plural } from '../../platform/words/numbers.ts';
import { gateRefusals } from '../pests/gate.ts';
import { moveToSite, siteMoveRefusals } from '../places/site-moves.ts';
import { type SeveralContext, type SeveralForm, severalForm } from './several-form.ts';

/** Taking lots to another site of the farm. */
export function siteMovePages(app: FastifyInstance, service: Service): void {
  severalForm(app, service, siteForm);
}

const schema = z.object({
  site: chosen('Choose the site they go to.'),
  reason: text('why they go', 500),
});

/** The other sites that whoever asks manages. */
async function otherSites({ service, request }: SeveralContext): Promise<ManagedSite[]> {
  const sites = await managedSites(service.pool, request.person.id);
  return sites.filter(({ id }) => id !== request.site.id);
}

const siteForm: SeveralForm<typeof schema, ManagedSite> = {
  path: '/stock/several/site',
  view: 'stock/several-site',
  area: 'stock',
  title: (count) => `Take ${plural(count, 'lot', 'lots')} to another site`,
  button: 'Take them there',
  schema: () => schema,
  fresh: () => ({ site: '', reason: '' }),
  data: async (context) => ({
    sites: (await otherSites(context)).map(({ id, name }) => ({ value: id, text: name })),
  }),
  outcomes: async (_, reader, lots, value) => {
    const refusals = await siteMoveRefusals(
      reader,
      lots.map(({ id }) => id),
      value?.site ?? null,
    );
    const gate = await gateRefusals(reader, lots, 'move', '');
    return lots.map((lot) => ({
      cautions: [gate.get(lot.id) ?? ''].filter((caution) => caution !== ''),
      refused: lot.pieces === 0 ? 'No pieces are left.' : (refusals.get(lot.id) ?? ''),
      words: `${plural(lot.pieces, 'piece goes', 'pieces go')}${lot.place === '' ? '' : `; ${lot.place} becomes free`}`,
    }));
  },
  act: async (work, context, lots, { site, reason }) => {
    const to = (await otherSites(context)).find(({ id }) => id === site);
    if (to === undefined)
      throw new Refusal('Choose a site of the list: one that you manage.', { field: 'site' });
    await moveToSite(work, { lots, from: context.request.site, to, reason });
    return to;
  },
  done: ({ name }, count) => ({
    notice: `${plural(count, 'lot is', 'lots are')} at ${name} now, with all that was noted of them. Place them there.`,
  }),
  unticks: true,
};

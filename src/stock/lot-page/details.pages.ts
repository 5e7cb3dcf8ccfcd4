import type { FastifyInstance } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { lotHref } from '../base/lot-href.ts';
import { kindChoices } from '../kinds/kinds.ts';
import { lotEditSchema } from '../lots/lots.schema.ts';
import { editLot } from '../lots/lots.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** Changing the details of a lot: kind, size, origin, permit, note. */
export function detailsPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, detailsForm);
}

const detailsForm: LotForm<typeof lotEditSchema, void> = {
  page: 'details',
  resource: 'details',
  view: 'stock/details',
  title: () => 'What is said of it',
  schema: () => lotEditSchema,
  fresh: ({ lot }) => {
    const { kindId, sizeMm, origin, permit, note, version } = lot;
    const ticks = { isMother: lot.isMother ? 'yes' : '', staysPut: lot.staysPut ? 'yes' : '' };
    const quarantineUntil = lot.quarantineUntil?.toISOString().slice(0, 10) ?? '';
    return { kindId, sizeMm, origin, permit, note, version, ...ticks, quarantineUntil };
  },
  there: ({ lot }) => {
    const size = lot.sizeMm === null ? '' : `${lot.sizeMm} mm`;
    const said = [lot.kind.name, size, lot.isMother ? 'a mother' : '', lot.origin, lot.permit, lot.note];
    return said.filter((one) => one !== '').join(', ');
  },
  data: async ({ service }) => ({ kinds: await kindChoices(service.db) }),
  act: (work, { lot }, edit) => editLot(work, lot.id, edit),
  done: (_, { lot }) => ({ to: lotHref(lot.code), notice: `${lot.code} is changed.` }),
};

import type { FastifyInstance } from 'fastify';
import type { Service } from '../../platform/service.ts';
import { inputSmall, mmWords } from '../../platform/units/measures.ts';
import { inputAmount } from '../../platform/words/money.ts';
import { lotHref } from '../base/lot-href.ts';
import { kindNames } from '../kinds/kinds.ts';
import { lotEditSchema } from '../lots/lots.schema.ts';
import { editLot } from '../lots/lots.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** Changing the details of a lot: kind, size, origin, permit, note. */
export function detailsPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, detailsForm);
}

/** A price as it stands in its field; "" for none. */
const inputPrice = (minor: number | null, currency: string | null) =>
  minor === null || currency === null ? '' : inputAmount({ minor, currency });

const detailsForm: LotForm<ReturnType<typeof lotEditSchema>, void> = {
  page: 'details',
  resource: 'details',
  view: 'stock/details',
  title: () => 'What is said of it',
  schema: ({ site }) => lotEditSchema(site.currency),
  fresh: ({ lot, request }) => {
    const { ownCode, tradeName, sizeMm, origin, permit, note, version } = lot;
    const price = inputPrice(lot.priceMinor, request.site.currency);
    const ticks = { isMother: lot.isMother ? 'yes' : '', staysPut: lot.staysPut ? 'yes' : '' };
    const quarantineUntil = lot.quarantineUntil?.toISOString().slice(0, 10) ?? '';
    return {
      kindId: lot.kind.name,
      ownCode,
      tradeName,
      price,
      sizeMm: inputSmall(sizeMm),
      origin,
      permit,
      note,
      version,
      ...ticks,
      quarantineUntil,
    };
  },
  there: ({ lot }) => {
    const size = lot.sizeMm === null ? '' : mmWords(lot.sizeMm);
    const said = [
      lot.ownCode,
      lot.tradeName,
      lot.kind.name,
      size,
      lot.isMother ? 'a mother' : '',
      lot.origin,
      lot.permit,
      lot.note,
    ];
    return said.filter((one) => one !== '').join(', ');
  },
  data: async ({ service, request }) => ({
    kinds: await kindNames(service.db),
    currency: request.site.currency,
  }),
  act: (work, { lot }, edit) => editLot(work, lot.id, edit),
  done: (_, { lot }) => ({ to: lotHref(lot.code), notice: `${lot.code} is changed.` }),
};

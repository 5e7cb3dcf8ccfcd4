import type { FastifyInstance } from 'fastify';
import { localDay } from '../../platform/days.ts';
import type { Service } from '../../platform/service.ts';
import { lotHref } from '../base/lot-href.ts';
import { libraryNames, namesToChoose, passName } from '../kinds/name-check.ts';
import { opinionSchema, qualifierChoices } from '../lots/identifications.schema.ts';
import { identifyLot, scientificNameWords } from '../lots/identifications.ts';
import { type LotForm, lotForm } from './lot-form.ts';

/** Opinions of what a lot is. */
export function identificationPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, identificationForm);
}

const identificationForm: LotForm<ReturnType<typeof opinionSchema>, { id: string }> = {
  page: 'identification',
  resource: 'identifications',
  view: 'stock/identification',
  title: () => 'Identify',
  schema: ({ now, timeZone }) => opinionSchema(localDay(now, timeZone)),
  fresh: ({ now, timeZone, request }) => ({
    scientificName: '',
    asTyped: '',
    identificationQualifier: '',
    identifiedBy: request.person.name,
    dateIdentified: localDay(now, timeZone),
    identificationRemarks: '',
  }),
  data: async ({ service, now, timeZone }) => ({
    qualifiers: qualifierChoices,
    today: localDay(now, timeZone),
    names: namesToChoose(await libraryNames(service.db)),
  }),
  act: async (work, { lot }, { asTyped, ...opinion }) => {
    await passName(work.tx, { name: opinion.scientificName, kindId: lot.kindId, asTyped });
    return identifyLot(work, lot.id, opinion);
  },
  done: (_, { lot }, { scientificName, identificationQualifier }) => ({
    to: lotHref(lot.code),
    notice: `${lot.code} is identified as ${scientificNameWords(scientificName, identificationQualifier)}. Earlier opinions stay.`,
  }),
};

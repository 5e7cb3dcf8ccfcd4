import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Service } from '../platform/service.ts';
import { choice, optionalText, text } from '../platform/web/fields.ts';
import { localDay } from '../platform/web/moments.ts';
import { identifyLot, nameWords, QUALIFIERS } from './identifications.ts';
import { type LotForm, lotForm, lotHref } from './lot-forms.ts';

/** Opinions of what a lot is. */
export function identificationPages(app: FastifyInstance, service: Service): void {
  lotForm(app, service, identificationForm);
}

export const qualifierChoices = [
  { value: '', text: 'No doubt' },
  { value: 'cf.', text: 'cf. (looks like it, to be compared)' },
  { value: 'aff.', text: 'aff. (near it, but not it)' },
  { value: 'sp.', text: 'sp. (the genus only)' },
  { value: '?', text: '? (a guess)' },
];

/** A day that is not ahead; today when left empty. */
export const pastDay = (today: string) =>
  optionalText(10)
    .transform((day) => (day === '' ? today : day))
    .pipe(
      z.iso
        .date('Enter the day, like 2026-11-24.')
        .refine((day) => day <= today, 'That is in the future. Enter the day it was given.'),
    );

/** One opinion, as forms and JSON bring it. */
export const opinionSchema = (today: string) =>
  z.object({
    scientificName: text('the scientific name, like Goniastrea edwardsi', 120),
    identificationQualifier: choice(QUALIFIERS, 'Choose how sure the opinion is.'),
    identifiedBy: text('who says so', 120),
    dateIdentified: pastDay(today),
    identificationRemarks: optionalText(),
  });

const identificationForm: LotForm<ReturnType<typeof opinionSchema>, { id: string }> = {
  page: 'identification',
  noun: 'identifications',
  view: 'stock/identification',
  title: () => 'Identify',
  schema: ({ now, timeZone }) => opinionSchema(localDay(now, timeZone)),
  fresh: ({ now, timeZone, request }) => ({
    scientificName: '',
    identificationQualifier: '',
    identifiedBy: request.person.name,
    dateIdentified: localDay(now, timeZone),
    identificationRemarks: '',
  }),
  data: ({ now, timeZone }) => ({ qualifiers: qualifierChoices, today: localDay(now, timeZone) }),
  act: (work, { lot }, opinion) => identifyLot(work, lot.id, opinion),
  done: (_, { lot }, { scientificName, identificationQualifier }) => ({
    to: lotHref(lot.code),
    notice: `${lot.code} is identified as ${nameWords(scientificName, identificationQualifier)}. Earlier opinions stay.`,
  }),
};

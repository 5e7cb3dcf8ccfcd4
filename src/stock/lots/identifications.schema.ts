import { z } from 'zod';
import { choice, optionalText, text, tick } from '../../platform/web/fields.ts';
import { QUALIFIERS } from './identifications.ts';

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
    /** A name that was asked about is meant as it is written. */
    asTyped: tick(),
  });

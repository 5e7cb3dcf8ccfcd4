import { z } from 'zod';
import { optionalVolume } from '../../platform/web/fields/measures.ts';
import { many, number, optionalNumber, optionalText, text } from '../../platform/web/fields.ts';
import { pastMoment } from '../../platform/web/moments.ts';
import { pestCode } from './pests.schema.ts';

const wholeOrNone = (what: string, high: number, low = 0) =>
  optionalNumber({ what, low, high }).pipe(z.number().int('Enter a whole number.').nullable());

/** A look at a whole water. */
export const lookSchema = (timeZone: string, now: Date) =>
  z.object({
    found: number({ what: 'how many you found', low: 0, high: 100_000 }).pipe(
      z.number().int('Enter a whole number; 0 where you found none.'),
    ),
    note: optionalText(500),
    at: pastMoment(timeZone, now),
  });

/** A treatment as typed from its label. */
export const treatmentSchema = (timeZone: string, now: Date) =>
  z
    .object({
      product: text('what it is called on its label', 120),
      substance: optionalText(120),
      doseALitre: optionalNumber({ what: 'the dose a litre', low: 1e-6, high: 1e5 }),
      doseUnit: optionalText(20),
      labelLow: optionalNumber({ what: 'the least the label says', low: 0, high: 1e5 }),
      labelHigh: optionalNumber({ what: 'the most the label says', low: 0, high: 1e5 }),
      litres: optionalVolume({ what: 'the water of the bath', low: 0.01, high: 1e5 }),
      minutes: number({ what: 'the minutes', low: 0.1, high: 20_160 }),
      countedBefore: wholeOrNone('how many were counted before', 100_000),
      notFor: optionalText(500),
      treated: many().pipe(z.array(z.uuid('Choose lots of this water.'))),
      reason: optionalText(500),
      note: optionalText(1000),
      at: pastMoment(timeZone, now),
    })
    .refine(({ doseALitre, doseUnit }) => doseALitre === null || doseUnit !== '', {
      message: 'Enter the unit of the dose, as the label has it: mL, mg, g or drops.',
      path: ['doseUnit'],
    })
    .refine(({ labelLow, labelHigh }) => labelLow === null || labelHigh === null || labelLow <= labelHigh, {
      message: 'The most the label says is less than the least. Read both again.',
      path: ['labelHigh'],
    })
    .refine(({ treated }) => treated.length > 0, {
      message: 'Tick what was in the bath.',
      path: ['treated'],
    });

export type NewTreatment = z.output<ReturnType<typeof treatmentSchema>>;

/** Which pest it is. */
export const namingSchema = z.object({
  pest: pestCode().refine((code) => code !== '' && code !== 'unnamed', 'Choose which pest it is.'),
  version: z.coerce.number().int(),
});

/** The end of a watch by a person. */
export const endingSchema = z.object({ reason: text('why the watch ends', 500) });

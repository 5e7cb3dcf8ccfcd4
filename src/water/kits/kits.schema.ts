import { Temporal } from 'temporal-polyfill';
import { z } from 'zod';
import { chosen, optionalNumber, optionalText, text, version } from '../../platform/web/fields.ts';
import { pastMoment, statedMoment } from '../../platform/web/moments.ts';

/** A calendar day ("2027-03-01"), or null when left empty. */
const optionalDay = optionalText(10).transform((typed, context): string | null => {
  if (typed === '') return null;
  try {
    return Temporal.PlainDate.from(typed).toString();
  } catch {
    context.addIssue({ code: 'custom', message: 'Enter the day like 2027-03-01, or leave it empty.' });
    return z.NEVER;
  }
});

/** What is said of one bottle set or instrument. */
const details = (timeZone: string, now: Date) => ({
  label: text('what the kit is called on the bench', 60),
  lotNumber: optionalText(60),
  openedAt: pastMoment(timeZone, now),
  expiresOn: optionalDay,
  uses: optionalNumber({ what: 'how many tests it is good for', low: 1, high: 100_000 }),
});

export const newKitSchema = (timeZone: string, now: Date) =>
  z.object({ methodId: chosen('Choose what the kit measures, and how.'), ...details(timeZone, now) });

export const kitDetailsSchema = (timeZone: string, now: Date) =>
  z.object({
    ...details(timeZone, now),
    openedAt: statedMoment('when it was opened', timeZone, now),
    version: version(),
  });

export const retirementSchema = (timeZone: string, now: Date) => z.object({ at: pastMoment(timeZone, now) });

/** A test of a standard: what it holds and what the kit showed, in one unit. */
export const checkSchema = (timeZone: string, now: Date) =>
  z.object({
    standard: text('what the standard holds', 60),
    value: text('what the kit showed', 60),
    unit: text('the unit', 40),
    at: pastMoment(timeZone, now),
    note: optionalText(500),
  });

/** One sample by the kit before and by the new one, in one unit. */
export const pairSchema = (timeZone: string, now: Date) =>
  z.object({
    oldKitId: chosen('Choose the other kit.'),
    old: text('what the other kit showed', 60),
    fresh: text('what this kit showed', 60),
    unit: text('the unit', 40),
    at: pastMoment(timeZone, now),
    note: optionalText(500),
  });

export type PairInput = z.output<ReturnType<typeof pairSchema>>;
export type KitInput = z.output<ReturnType<typeof newKitSchema>>;
export type KitDetails = z.output<ReturnType<typeof kitDetailsSchema>>;
export type CheckInput = z.output<ReturnType<typeof checkSchema>>;

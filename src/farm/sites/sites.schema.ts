import { z } from 'zod';
import { timeZone } from '../../people/accounts.schema.ts';
import { unitChoices } from '../../platform/units/units.ts';
import { choice, optionalText, optionalWhole, text, version } from '../../platform/web/fields.ts';
import { listCurrencies } from '../../platform/words/money.ts';

const currencies = new Set(listCurrencies().map(({ value }) => value));

const currency = optionalText(3)
  .transform((code) => (code === '' ? null : code.toUpperCase()))
  .refine((code) => code === null || currencies.has(code), 'Choose a currency of the list.');

export const newSiteSchema = z.object({ name: text('the name of the place', 60), timeZone, currency });

export const siteSchema = z.object({
  name: text('the name of the place', 60),
  timeZone,
  digestAt: text('a time of day').refine(
    (value) => /^([01]\d|2[0-3]):[0-5]\d$/.test(value),
    'Enter the time of day as hours and minutes, like 06:30.',
  ),
  currency,
  // What a form does not have stays as it is.
  volumeUnit: choice(unitChoices.volume, 'Choose a unit of the list.').optional(),
  lengthUnit: choice(unitChoices.length, 'Choose a unit of the list.').optional(),
  massUnit: choice(unitChoices.mass, 'Choose a unit of the list.').optional(),
  /** Empty: for ever. */
  probeValueDays: optionalWhole({
    what: 'the days for which values of probes are kept',
    low: 130,
    high: 36_500,
  }).optional(),
  version: version(),
});

export type SiteEdit = z.output<typeof siteSchema>;

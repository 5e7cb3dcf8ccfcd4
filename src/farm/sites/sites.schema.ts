import { z } from 'zod';
import { timeZone } from '../../people/accounts.schema.ts';
import { text, version } from '../../platform/web/fields.ts';

export const siteSchema = z.object({
  name: text('the name of the place', 60),
  timeZone,
  digestAt: text('a time of day').refine(
    (value) => /^([01]\d|2[0-3]):[0-5]\d$/.test(value),
    'Enter the time of day as hours and minutes, like 06:30.',
  ),
  version: version(),
});

export type SiteEdit = z.output<typeof siteSchema>;

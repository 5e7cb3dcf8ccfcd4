import { z } from 'zod';
import { choice, optionalDay, optionalText, text, tick, version } from '../../platform/web/fields.ts';
import { contactRoleCodes } from './roles.ts';

export const contactSchema = z.object({
  role: choice(contactRoleCodes, 'Choose who this is.'),
  name: optionalText(80),
  number: text('the number', 40).pipe(
    z.string().regex(/^[+0-9][0-9 ()/.-]*$/, 'Enter the number with digits, such as +351 21 000 00 00.'),
  ),
  testedOn: optionalDay(),
  note: optionalText(300),
});

export const contactEditSchema = contactSchema.extend({ removed: tick(), version: version() });

export type ContactInput = z.output<typeof contactSchema>;
export type ContactEdit = z.output<typeof contactEditSchema>;

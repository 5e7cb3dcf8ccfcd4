import { z } from 'zod';
import {
  choice,
  mailAddress,
  optionalDay,
  optionalNumber,
  optionalText,
  text,
  tick,
  version,
} from '../../platform/web/fields.ts';
import { contactRoleCodes } from './roles.ts';

const addressWords = 'Enter an address such as ines@example.org, or leave it empty.';

export const contactSchema = z.object({
  role: choice(contactRoleCodes, 'Choose who this is.'),
  name: optionalText(80),
  number: text('the number', 40).pipe(
    z.string().regex(/^[+0-9][0-9 ()/.-]*$/, 'Enter the number with digits, such as +351 21 000 00 00.'),
  ),
  email: optionalText(200).refine(
    (address) => address === '' || mailAddress(addressWords).safeParse(address).success,
    addressWords,
  ),
  onCall: optionalNumber({ what: 'the turn', low: 1, high: 9 }).transform((turn) =>
    turn === null ? null : Math.round(turn),
  ),
  testedOn: optionalDay(),
  note: optionalText(300),
});

export const contactEditSchema = contactSchema.extend({ removed: tick(), version: version() });

export type ContactInput = z.output<typeof contactSchema>;
export type ContactEdit = z.output<typeof contactEditSchema>;

import { z } from 'zod';
import { unitChoices } from '../platform/units/units.ts';
import { choice, mailAddress, optionalText, text, tick, version } from '../platform/web/fields.ts';
import { shortestPassword } from './passwords.ts';

const password = z
  .string({ error: 'Enter a password.' })
  .min(shortestPassword, `At least ${shortestPassword} characters. Three or four unrelated words are good.`)
  .max(200, 'At most 200 characters.');

const addressWords = 'That is not an e-mail address. It looks like name@example.org.';

const email = text('an e-mail address')
  .pipe(mailAddress(addressWords))
  .transform((value) => value.toLowerCase());

const role = choice(['reader', 'hand', 'manager', 'owner'], 'Choose what the person may do.');

const zones = new Set([...Intl.supportedValuesOf('timeZone'), 'UTC']);

/** Browsers also say names that were given up for others (Asia/Calcutta); they mean the same clock. */
const isOldName = (value: string) => {
  try {
    return (
      value.includes('/') && new Intl.DateTimeFormat('en', { timeZone: value }).resolvedOptions() !== null
    );
  } catch {
    return false;
  }
};

const plainZone = (name: string) => name.toLowerCase().replaceAll('_', ' ');

/** The zone of which a place is the last part ("Lisbon", "new york"); the text itself where none or several are. */
function zoneOf(typed: string): string {
  const named = [...zones].filter((zone) => plainZone(zone).split('/').at(-1) === plainZone(typed));
  return named.length === 1 && !zones.has(typed) ? (named[0] ?? typed) : typed;
}

/** A time zone by its IANA name, or by the place in it. */
export const timeZone = text('a time zone')
  .transform(zoneOf)
  .refine(
    (value) => zones.has(value) || isOldName(value),
    'Choose a time zone of the list, like Europe/Lisbon.',
  );

export const signInSchema = z.object({
  email: text('your e-mail address').transform((value) => value.toLowerCase()),
  password: z.string({ error: 'Enter your password.' }).min(1, 'Enter your password.'),
});

export const firstRunSchema = z.object({
  siteName: text('the name of the place'),
  timeZone,
  name: text('your name'),
  email,
  password,
});

const obvious = /^(\d)\1+$|^0?123456789?0?$|^(1234|12345|4321|54321|2580)$/;

/** A PIN for enrolled tablets; empty keeps the old one, or none. */
const pin = optionalText(12)
  .refine((value) => value === '' || /^\d{4,12}$/.test(value), 'A PIN is 4 to 12 digits.')
  .refine((value) => !obvious.test(value), 'That is the first thing somebody would try. Choose another.');

const emailOrNone = optionalText()
  .transform((value) => (value === '' ? null : value.toLowerCase()))
  .pipe(mailAddress(addressWords).nullable());

const passwordOrNone = optionalText(200).refine(
  (value) => value === '' || value.length >= shortestPassword,
  `At least ${shortestPassword} characters.`,
);

/** A new person: an address with a password, or a hand without both, who signs in on enrolled tablets by a PIN. */
export const newAccountSchema = z
  .object({ name: text('a name'), email: emailOrNone, role, password: passwordOrNone, pin })
  .superRefine(({ email, role, password, pin }, context) => {
    const refuse = (field: string, message: string) =>
      context.addIssue({ code: 'custom', path: [field], message });
    if (email !== null && password === '') refuse('password', 'Enter a first password for this address.');
    if (email === null && password !== '')
      refuse('email', 'A password needs an e-mail address to sign in with.');
    if (email === null && role !== 'hand')
      refuse('email', 'Enter an e-mail address. Only hands can do without, with a PIN on a tablet.');
    if (email === null && role === 'hand' && password === '' && pin === '')
      refuse('pin', 'Without an e-mail address the person signs in with a PIN. Enter one.');
    if (pin !== '' && role !== 'hand') refuse('pin', 'Only hands sign in with a PIN.');
  });

export const accountSchema = z.object({
  name: text('a name'),
  role,
  disabled: tick(),
  password: optionalText(200).refine(
    (value) => value === '' || value.length >= shortestPassword,
    `At least ${shortestPassword} characters, or leave it empty to keep the old one.`,
  ),
  pin,
  version: version(),
});

/** What somebody is at each site, by the names of the fields; null: not there. */
export const siteRolesSchema = (fields: readonly string[]) =>
  z.object(
    Object.fromEntries(
      fields.map((field) => [
        field,
        choice(['', 'reader', 'hand', 'manager'], 'Choose one of the list.').transform((role) =>
          role === '' ? null : role,
        ),
      ]),
    ),
  );

export const forgottenSchema = z.object({ email });

export const newPasswordSchema = z.object({ password });

export const ownPasswordSchema = z.object({
  current: z.string({ error: 'Enter your password.' }).min(1, 'Enter your password.'),
  password,
});

export const ownAddressSchema = z.object({
  email,
  current: z.string({ error: 'Enter your password.' }).min(1, 'Enter your password.'),
});

const ofList = (choices: readonly string[]) =>
  choice(['', ...choices], 'Choose a unit of the list.').transform((unit) => unit || null);

/** One's own units; null: as the site has it. */
export const ownUnitsSchema = z.object({
  volume: ofList(unitChoices.volume),
  length: ofList(unitChoices.length),
  mass: ofList(unitChoices.mass),
  temperature: ofList(unitChoices.temperature),
  alkalinity: ofList(unitChoices.alkalinity),
  salinity: ofList(unitChoices.salinity),
});

export type FirstRun = z.output<typeof firstRunSchema>;
export type NewAccount = z.output<typeof newAccountSchema>;
export type AccountEdit = z.output<typeof accountSchema>;

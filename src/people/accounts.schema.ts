import { z } from 'zod';
import { choice, optionalText, text, tick, version } from '../platform/web/fields.ts';
import { shortestPassword } from './passwords.ts';

const password = z
  .string({ error: 'Enter a password.' })
  .min(shortestPassword, `At least ${shortestPassword} characters. Three or four unrelated words are good.`)
  .max(200, 'At most 200 characters.');

const email = text('an e-mail address')
  .pipe(z.email('That is not an e-mail address. It looks like name@example.org.'))
  .transform((value) => value.toLowerCase());

const role = choice(['hand', 'manager', 'owner'], 'Choose what the person may do.');

const zones = new Set([...Intl.supportedValuesOf('timeZone'), 'UTC']);

/** A time zone by its IANA name. */
export const timeZone = text('a time zone').refine(
  (value) => zones.has(value),
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

export const newAccountSchema = z.object({ name: text('a name'), email, role, password });

export const accountSchema = z.object({
  name: text('a name'),
  role,
  disabled: tick(),
  password: optionalText(200).refine(
    (value) => value === '' || value.length >= shortestPassword,
    `At least ${shortestPassword} characters, or leave it empty to keep the old one.`,
  ),
  version: version(),
});

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

export type FirstRun = z.output<typeof firstRunSchema>;
export type NewAccount = z.output<typeof newAccountSchema>;
export type AccountEdit = z.output<typeof accountSchema>;

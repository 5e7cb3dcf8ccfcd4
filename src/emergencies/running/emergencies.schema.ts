import { z } from 'zod';
import { thingCodes } from '../../farm/switched-off/things.rules.ts';
import { choice, many, optionalText, text, tick } from '../../platform/web/fields.ts';
import { events } from '../events/events.rules.ts';

const eventCodes = events.map(({ code }) => code) as [string, ...string[]];

/** The form that starts one: 'all', or systems by their ids. */
export const startSchema = z.object({
  event: choice(eventCodes, 'Choose what you see.'),
  systems: many().pipe(z.array(z.union([z.literal('all'), z.uuid()])).min(1, 'Choose where it is.')),
});

const moment = z.iso.datetime({ offset: true }).transform((at) => new Date(at));
const kinds = [
  'done',
  'undone',
  'look',
  'looked',
  'note',
  'off',
  'running',
  'left_off',
  'called',
  'taken',
] as const;

/** What was noted while it runs: a form's fields, or one entry that a tablet made. */
const entry = z.object({
  kind: choice(kinds, 'Say what was done.'),
  step: optionalText(40),
  text: optionalText(500),
  /** Minutes until the next look. */
  minutes: z.coerce
    .number()
    .int()
    .min(1)
    .max(7 * 24 * 60)
    .nullable()
    .catch(null),
  systemId: z.uuid().nullable().catch(null),
  thing: z.enum(thingCodes).nullable().catch(null),
  equipmentId: z.uuid().nullable().catch(null),
  /** What was switched off: its own id, or that of the entry which said so. */
  offId: z.uuid().nullable().catch(null),
  /** Who was called, or took it: of the farm's list. */
  contactId: z.uuid().nullable().catch(null),
});

export const entryFormSchema = entry;

/** One entry that a tablet made. */
export const entrySchema = entry.extend({
  id: z.uuid(),
  at: moment,
  notedBy: z.uuid().nullable().default(null),
});

/** What a tablet sends of one emergency; sent again, what is there already stays as it is. Each entry is checked by itself. */
export const emergencySchema = z.object({
  event: choice(eventCodes, 'Choose what you see.'),
  systemIds: z.array(z.uuid()).min(1, 'Choose where it is.').max(500),
  startedAt: moment,
  startedBy: z.uuid().nullable().default(null),
  entries: z.array(z.unknown()).max(500).default([]),
});

export const endSchema = z.object({
  ending: text('what it was, in a few words', 500),
  /** Ended although a look was still to be taken. */
  withoutLook: tick(),
});

export type EntryInput = z.output<typeof entry>;
/** The start of one, as `emergencySchema` reads it. */
export type StartInput = Omit<z.output<typeof emergencySchema>, 'entries'>;
export type KeyedEntry = z.output<typeof entrySchema>;

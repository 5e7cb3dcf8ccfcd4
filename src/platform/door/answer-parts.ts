import { z } from 'zod';

// What answers are told by, for the document of the doors: what programs rely on. Numbers are canonical.

export const id = z.uuid();

/** A time, ISO 8601. */
export const moment = z.union([z.string(), z.date()]).meta({ type: 'string', format: 'date-time' });

/** A day of the site, 2026-11-24. */
export const day = z.iso.date();

export const severity = z.enum(['now', 'today', 'watch']);

/** A number that is said in one way wherever it is said: what it is, of which thing, and its words. */
export const figure = z.object({
  name: z.string(),
  of: z.string(),
  value: z.union([z.string(), z.number()]),
  text: z.string(),
});

/** What was made, by its id. */
export const made = z.object({ id });

/** What a list of entries of a tablet comes to, one by one. */
export const entryOutcomes = z.array(
  z.object({
    id,
    outcome: z.enum(['taken', 'there', 'refused']),
    why: z.string().optional().describe('Why it was refused, and what to do.'),
    held: z.boolean().optional(),
  }),
);

import { z } from 'zod';
import { optionalText, text, whole } from '../../platform/web/fields.ts';

/** Days that pieces are held where nobody says otherwise (own choice). */
export const usualHoldDays = 7;

/** A hold, as forms and JSON bring it. */
export const holdSchema = (today: string) =>
  z.object({
    pieces: whole({ what: 'how many pieces', low: 1, high: 100_000 }),
    buyer: text('who it is for', 120),
    until: z.iso
      .date({ error: 'Enter a day, like 2026-12-01.' })
      .refine((day) => day >= today, 'Enter today or a later day.'),
    note: optionalText(500),
    despite: optionalText(500),
  });

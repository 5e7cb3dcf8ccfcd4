import { z } from 'zod';
import { chosen, text } from '../../platform/web/fields.ts';
import { calendarDay } from '../../platform/web/moments.ts';

/** Which plan is walked, and for which local day. */
export const beginSchema = z.object({
  planId: chosen('Choose a round of the list.'),
  day: text('the day').pipe(calendarDay('Enter the day like 2026-11-24.')),
});

export type Begin = z.output<typeof beginSchema>;

import { z } from 'zod';
import { many, text, whole } from '../platform/web/fields.ts';

const shortestIdleMin = 1;
const longestIdleMin = 240;

/** A tablet: its name, after how many minutes without use a session ends, and who may use it. */
export const tabletSchema = z.object({
  name: text('a name for the tablet, like "North hall"', 80),
  idleMin: whole({ what: 'the minutes', low: shortestIdleMin, high: longestIdleMin }),
  people: many().pipe(z.array(z.uuid({ error: 'Choose hands of the list.' }))),
});

export type TabletInput = z.output<typeof tabletSchema>;

export const pinSchema = z.object({ pin: text('your PIN', 12) });

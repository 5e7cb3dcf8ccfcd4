import { z } from 'zod';
import { optionalNumber, optionalText, text, tick, version } from '../../platform/web/fields.ts';

/** A circuit as its form brings it. */
export const circuitSchema = z.object({
  name: text('a name', 60),
  place: optionalText(200),
  protection: optionalText(200),
  testEveryDays: optionalNumber({ what: 'how often it is tested', low: 1, high: 3650, unit: 'days' }),
  note: optionalText(),
});

export const circuitEditSchema = circuitSchema.extend({ removed: tick(), version: version() });

export type CircuitInput = z.output<typeof circuitSchema>;
export type CircuitEdit = z.output<typeof circuitEditSchema>;

import { z } from 'zod';
import { volume } from '../../platform/web/fields/measures.ts';
import { optionalChosen, optionalText, text, tick, version } from '../../platform/web/fields.ts';

export const systemSchema = z.object({
  name: text('a name', 60),
  volumeL: volume({ what: 'the net volume', low: 1, high: 1_000_000 }),
  note: optionalText(),
  /** The kind of stock it is meant for, where somebody says so. */
  stockKindId: optionalChosen(),
});

export const systemEditSchema = systemSchema.extend({ retired: tick(), version: version() });

export type SystemInput = z.output<typeof systemSchema>;
export type SystemEdit = z.output<typeof systemEditSchema>;

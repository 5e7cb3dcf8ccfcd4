import { z } from 'zod';
import { id } from '../../platform/door/answer-parts.ts';

/** What a system keeps of each quantity, and what is proposed where nothing was chosen. */
export const targetsAnswer = z.object({
  systemId: id,
  seen: z.string(),
  keeps: z.array(
    z.object({
      unit: z.string().optional(),
      source: z.string(),
      makeUp: z.number().nullable(),
      quantityCode: z.string(),
      bandLow: z.number().nullable(),
      bandHigh: z.number().nullable(),
      limitHigh: z.number().nullable(),
      starting: z.boolean(),
    }),
  ),
  proposed: z.array(
    z.object({
      unit: z.string().optional(),
      instead: z
        .object({
          low: z.number().nullable(),
          high: z.number().nullable(),
        })
        .nullable(),
      quantityCode: z.string(),
      low: z.number(),
      high: z.number(),
      source: z.string(),
    }),
  ),
});

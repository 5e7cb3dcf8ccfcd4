import { z } from 'zod';
import { day, id } from '../../platform/door/answer-parts.ts';

/** One piece of work that is due: what, how, and why it may not be done now. */
export const dueTask = z.object({
  key: z.string(),
  work: z.string(),
  systemId: id,
  systemName: z.string(),
  title: z.string(),
  detail: z.array(z.string()),
  cautions: z.array(z.string()),
  held: z.string().nullable(),
  dueOn: day,
  overdueDays: z.number(),
  done: z.boolean(),
  href: z.string(),
  amount: z
    .object({
      value: z.number(),
      unit: z.string(),
    })
    .nullable()
    .optional(),
  pumpsOffMin: z.number().nullable().optional(),
});

import { z } from 'zod';
import { id, moment } from '../../platform/door/answer-parts.ts';
import { nextCursor } from '../../platform/door/pages.ts';

/** What the page says of each lot, rack by rack; a hidden count is not told. Progress is that of all racks. */
export const stocktakeAnswer = z.object({
  progress: z.object({
    all: z.number(),
    left: z.number(),
    again: z.number(),
    differ: z.number(),
    right: z.number(),
    settled: z.number(),
  }),
  racks: z.array(
    z.object({
      id,
      name: z.string(),
      lots: z.array(
        z.object({
          lineId: id.nullable(),
          lotId: id.nullable(),
          name: z.string(),
          kind: z.string(),
          state: z.enum(['open', 'again', 'right', 'differs', 'settled']),
          said: z.string(),
          counts: z.array(
            z.object({
              counted: z.number(),
              at: moment,
              by: z.string(),
            }),
          ),
          reason: z.string().nullable(),
        }),
      ),
    }),
  ),
  id,
  name: z.string(),
  hidden: z.boolean(),
  twoPeople: z.boolean(),
  startedAt: moment,
  startedBy: z.string().nullable(),
  closedAt: moment.nullable(),
  closedBy: z.string().nullable(),
  note: z.string(),
  next: nextCursor,
});

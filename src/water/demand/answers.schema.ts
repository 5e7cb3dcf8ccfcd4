import { z } from 'zod';
import { figure, id, moment } from '../../platform/door/answer-parts.ts';

/** Net change a day with changes and doses taken out; use is below 0. */
const rate = z.object({
  perDay: z.number(),
  low: z.number(),
  high: z.number(),
  from: moment,
  to: moment,
  hours: z.number(),
  readings: z.number(),
  dosedPerDay: z.number(),
  changedPerDay: z.number(),
  leftOut: z.record(z.string(), z.number()),
});

/** Demand of a system, by quantity; what cannot be told says why. */
export const demandAnswer = z.object({
  systemId: id,
  volumeL: z.number(),
  quantities: z.array(
    z.object({
      quantityCode: z.string(),
      unit: z.string(),
      rate: rate.nullable(),
      figures: z.array(figure),
      cannotTell: z.string().nullable(),
      means: z.string(),
      heldBackBy: z.array(
        z.object({
          id,
          title: z.string(),
        }),
      ),
      returnedByChanges: z.number().nullable(),
      change: z
        .object({
          share: z.number(),
          low: z.number(),
          high: z.number(),
          usual: z.number(),
          days: z.number(),
          words: z.string(),
        })
        .nullable(),
      history: z.array(
        z.object({
          to: moment,
          days: z.number(),
          rate: rate.nullable(),
        }),
      ),
    }),
  ),
  calciumPerAlkalinity: z
    .object({
      days: z.number(),
      unit: z.string(),
      value: z.number(),
      low: z.number(),
      high: z.number(),
    })
    .nullable(),
});

import { z } from 'zod';
import { id, made, moment } from '../../platform/door/answer-parts.ts';
import { nextCursor } from '../../platform/door/pages.ts';

/** What every entry of the log has. */
const entry = z.object({
  id,
  systemId: id,
  at: moment,
  by: z.string().nullable(),
  enteredLateAt: moment.nullable(),
  voidedAt: moment.nullable(),
  voidReason: z.string().nullable(),
});

const waterChange = entry.extend({
  volumeL: z.number(),
  makeUp: z.record(z.string(), z.number()).nullable(),
  note: z.string(),
});

const dose = entry.extend({
  substance: z.string(),
  amount: z.number(),
  unit: z.string(),
  quantityCode: z.string().nullable(),
  effect: z.number().nullable(),
  note: z.string(),
  concerns: z.array(z.string()),
  reason: z.string(),
});

const feeding = entry.extend({
  food: z.string(),
  amountG: z.number().nullable(),
  tankId: id.nullable(),
  tank: z.string().nullable(),
  pumpsOffMin: z.number().nullable(),
  pumpsOnAt: moment.nullable(),
  switchedOff: z.boolean(),
  response: z.string(),
});

/** Answers of the three nouns of the log: the list, and an entry as it was kept. */
export const logAnswers = {
  'water-changes': {
    list: z.object({ entries: z.array(waterChange), next: nextCursor }),
    kept: z.object({
      id,
      volumeL: z.number(),
      makeUp: z.record(z.string(), z.number()).nullable(),
      says: z.string(),
      concerns: z.array(z.string()),
    }),
  },
  doses: {
    list: z.object({ entries: z.array(dose), next: nextCursor }),
    kept: z.object({
      id,
      effect: z
        .object({
          quantityCode: z.string(),
          rise: z.number(),
        })
        .nullable(),
      says: z.string(),
      earlier: z.number(),
      concerns: z.array(z.string()),
    }),
  },
  feedings: { list: z.object({ entries: z.array(feeding), next: nextCursor }), kept: made },
};
